import type { FaultCode, NewEvidence, NewFinding, NewReading, Place, Platform } from '#libs/contracts/index.js';
import { fluid, saturationAtT } from '#libs/refrigerant/index.js';
import type { Draw } from './draws.js';

/**
 * Readings as a technician of the region would have written them: a plain rule-of-thumb machine, not the system model, so that the engine is not
 * shown its own reflection. Changes by fault are of the size the service literature gives. Good enough for a demo and for nothing else.
 */
interface Change {
  /** Pa, at severity 1. */
  readonly low?: number;
  readonly discharge?: number;
  readonly liquid?: number;
  /** K */
  readonly vent?: number;
  readonly dischargeT?: number;
  readonly subcool?: number;
}

const BAR = 1e5;
const CHANGES: Partial<Record<FaultCode, Change>> = {
  undercharge: { low: -0.5 * BAR, discharge: -2 * BAR, liquid: -1.9 * BAR, vent: 6, dischargeT: 14, subcool: -8 },
  overcharge: { discharge: 3 * BAR, liquid: 3 * BAR, vent: 1.5, dischargeT: 4, subcool: 6 },
  'air-in-system': { low: 0.1 * BAR, discharge: 2 * BAR, liquid: 2 * BAR, vent: 1, dischargeT: 5, subcool: 4 },
  'condenser-dirt': { low: 0.4 * BAR, discharge: 5 * BAR, liquid: 4.9 * BAR, vent: 2, dischargeT: 15, subcool: 1 },
  'condenser-fan': { low: 0.7 * BAR, discharge: 8 * BAR, liquid: 7.8 * BAR, vent: 4, dischargeT: 25, subcool: 1 },
  'condenser-passages': { discharge: 4 * BAR, liquid: -3 * BAR, vent: 1, dischargeT: 13, subcool: -5 },
  'filter-cartridge': { discharge: 2 * BAR, liquid: -1.8 * BAR, vent: 0.5, dischargeT: 7, subcool: -2.5 },
  'valve-restricted': { low: -0.6 * BAR, discharge: -1 * BAR, liquid: -0.9 * BAR, vent: 5, dischargeT: 20 },
  'orifice-clogged': { low: -0.4 * BAR, discharge: 2 * BAR, liquid: 1.9 * BAR, vent: 3, dischargeT: 8, subcool: 12 },
  'compressor-wear': { low: 0.3 * BAR, discharge: -0.5 * BAR, liquid: -0.5 * BAR, vent: 1.5, dischargeT: 20 },
  'compressor-leakage': { low: 0.7 * BAR, discharge: -1.4 * BAR, liquid: -1.3 * BAR, vent: 3.5, dischargeT: 7 },
  'clutch-slip': { low: 0.6 * BAR, discharge: -1.5 * BAR, liquid: -1.3 * BAR, vent: 3, dischargeT: -8 },
  'displacement-stuck-low': { low: 1.5 * BAR, discharge: -3.4 * BAR, liquid: -3.1 * BAR, vent: 7, dischargeT: -14 },
  'electric-compressor-limited': { low: 1 * BAR, discharge: -2 * BAR, liquid: -1.8 * BAR, vent: 5, dischargeT: -8 },
  'evaporator-airflow': { low: -0.4 * BAR, discharge: -1.2 * BAR, liquid: -1.1 * BAR, vent: -5 },
  'air-door': { vent: 10 },
};

const KELVIN = 273.15;

export interface Visited {
  readonly platform: Platform;
  readonly elevationM: number;
  readonly outsideC: number;
  readonly fault: FaultCode | null;
  readonly severity: number;
  /** Draws of what was read once more after the repair; null where nobody did. */
  readonly after?: Draw | null;
}

/** Evidence of one visit, in the units and with the gaps of a busy shop. */
export function evidenceOf({ platform, elevationM, outsideC, fault, severity, after }: Visited, draw: Draw): NewEvidence {
  const ambient = Math.max(18, outsideC + 4 * draw.normal() + 3);
  const working = fluid(platform.refrigerant);
  const change = (fault && CHANGES[fault]) ?? {};
  const at = (part: number | undefined) => (part ?? 0) * severity;
  const barometer = 101_325 * (1 - 2.25577e-5 * elevationM) ** 5.25588;
  const head = saturationAtT(working, KELVIN + ambient + 17 + elevationM / 1000).p;
  const suction = saturationAtT(working, KELVIN + 1 + 0.18 * (ambient - 25)).p;
  const high = (place: Place, dischargePa = 0, liquidPa = 0) =>
    head + (place === 'compressor-discharge' ? dischargePa : liquidPa - 0.6 * BAR);
  const readings: NewReading[] = [];
  const pressure = (
    place: Place,
    phase: 'rest' | 'running',
    absolutePa: number,
    instrument: 'manifold-gauge' | 'vehicle-transducer',
    { noise, ...stage }: { readonly noise: Draw; readonly stage?: 'after' } = { noise: draw },
  ) => {
    const shown = Math.max(absolutePa, barometer * 0.4) - barometer + 4_000 * noise.normal();
    const value = Math.round(shown / 6894.757);
    readings.push({ quantity: 'pressure', place, phase, ...stage, instrument, reference: 'vented-gauge', value, unit: '[psi]' });
  };
  const bias = fault === 'pressure-sensor-bias' ? 2.2 * BAR * severity : 0;
  const minutes = 8 + draw.below(8);
  const rested = draw.unit() < 0.4;
  if (rested) {
    const resting = saturationAtT(working, KELVIN + ambient - 4).p + (fault === 'air-in-system' ? 1.5 * BAR * severity : 0);
    pressure('high-side-port', 'rest', resting, 'manifold-gauge');
    pressure('high-side-transducer', 'rest', resting + bias, 'vehicle-transducer');
    pressure('low-side-port', 'rest', resting, 'manifold-gauge');
  }
  pressure('low-side-port', 'running', suction + at(change.low), 'manifold-gauge');
  const faulty = (place: Place) => high(place, at(change.discharge), at(change.liquid));
  pressure('high-side-port', 'running', faulty(platform.highSidePort), 'manifold-gauge');
  if (draw.unit() < 0.75) pressure('high-side-transducer', 'running', faulty(platform.highSideTransducer) + bias, 'vehicle-transducer');
  const celsius = (place: Place, value: number, instrument: 'thermometer' | 'thermal-imager' = 'thermometer', stage?: 'after') => {
    const shown = Math.round(value * 10) / 10;
    readings.push({ quantity: 'temperature', place, phase: 'running', ...(stage && { stage }), instrument, value: shown, unit: 'Cel' });
  };
  celsius('vent', 8 + 0.25 * (ambient - 25) + at(change.vent) + draw.normal());
  if (draw.unit() < 0.5) celsius('compressor-discharge', ambient + 45 + at(change.dischargeT) + 3 * draw.normal());
  if (draw.unit() < 0.5) celsius('condenser-outlet', ambient + 10 - at(change.subcool) + 1.5 * draw.normal(), 'thermal-imager');
  if ((fault === 'undercharge' || fault === 'overcharge') && draw.unit() < 0.7) {
    const share = fault === 'undercharge' ? 1 - 0.75 * severity : 1 + 0.45 * severity;
    readings.push({
      quantity: 'mass',
      meaning: 'recovered-charge',
      place: 'service-machine',
      instrument: 'service-machine',
      value: Math.round(platform.chargeG * share),
      unit: 'g',
    });
  }
  if (after) {
    const sound = { noise: after, stage: 'after' } as const;
    pressure('low-side-port', 'running', suction, 'manifold-gauge', sound);
    pressure('high-side-port', 'running', high(platform.highSidePort), 'manifold-gauge', sound);
    pressure('high-side-transducer', 'running', high(platform.highSideTransducer), 'vehicle-transducer', sound);
    celsius('vent', 8 + 0.25 * (ambient - 25) + after.normal(), 'thermometer', 'after');
  }
  return {
    conditions: {
      outsideAir: { value: Math.round(ambient), unit: 'Cel' },
      relativeHumidity: { value: 30 + draw.below(35), unit: '%' },
      airSource: 'recirculated',
      minutesRunning: minutes,
      ...(rested ? { hoursSoaked: 9, soakTemperature: { value: Math.round(ambient - 4), unit: 'Cel' } } : {}),
    },
    readings,
    findings: findingsOf(fault, draw),
  };
}

const FINDINGS: Partial<Record<FaultCode, NewFinding['code'][]>> = {
  'filter-cartridge': ['cartridge-black', 'desiccant-hard', 'temperature-step-at-cartridge'],
  'condenser-passages': ['condenser-rows-cold', 'temperature-step-at-condenser'],
  'condenser-dirt': ['condenser-fins-dirty', 'mist-drops-head'],
  'condenser-fan': ['condenser-fan-stopped'],
  'compressor-wear': ['compressor-noise', 'metal-fines-magnetic', 'oil-black'],
  'orifice-clogged': ['orifice-screen-dark'],
  undercharge: ['oil-at-joint', 'dye-at-joint'],
  'evaporator-airflow': ['cabin-filter-blocked'],
  'clutch-slip': ['clutch-slips'],
  'valve-restricted': ['frost-at-valve'],
  'air-door': ['vents-differ-left-right'],
};

function findingsOf(fault: FaultCode | null, draw: Draw): NewFinding[] {
  return ((fault && FINDINGS[fault]) ?? []).filter(() => draw.unit() < 0.5).map((code) => ({ code }));
}
