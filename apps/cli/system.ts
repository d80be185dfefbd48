import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { standardAtmospherePressure } from '#libs/air/index.js';
import {
  circuitDiagram,
  pressureEnthalpyDiagram,
  type RestrictedPart,
  SIMULATED_FAULTS,
  type SimulatedFault,
  solveSystem,
  typicalHardware,
} from '#libs/system/index.js';
import { COMPRESSOR_KINDS, LAYOUTS, REFRIGERANT_NAMES } from '#libs/vocabulary/index.js';

interface DrawOptions {
  readonly layout: string;
  readonly compressor: string;
  readonly refrigerant: string;
  readonly fault?: string;
  readonly severity: string;
  readonly ambient: string;
  readonly elevation: string;
  readonly speed: string;
  readonly out: string;
}

/** Faults that block a part, for the mark in the circuit. */
const RESTRICTS: Partial<Record<SimulatedFault, RestrictedPart>> = {
  'discharge-line-restriction': 'discharge-line',
  'condenser-passages': 'condenser',
  'filter-cartridge': 'cartridge',
  'liquid-line-restriction': 'liquid-line',
  'valve-restricted': 'expansion',
  'orifice-clogged': 'expansion',
  'suction-restriction': 'suction-line',
};

/** Draws the pressure–enthalpy diagram and the circuit of a typical system, sound and with a fault, as two SVG files. */
export function drawCommand(options: DrawOptions): void {
  const layout = oneOf('--layout', options.layout, LAYOUTS);
  const compressor = oneOf('--compressor', options.compressor, COMPRESSOR_KINDS);
  const refrigerant = oneOf('--refrigerant', options.refrigerant, REFRIGERANT_NAMES);
  const code = options.fault === undefined ? null : oneOf('--fault', options.fault, SIMULATED_FAULTS);
  const ambientK = numberIn('--ambient', options.ambient, 0, 55) + 273.15;
  const conditions = {
    condenserAirTemperature: ambientK,
    evaporatorAirTemperature: Math.min(ambientK, 300.15),
    evaporatorAirHumidity: 0.5,
    barometricPressure: standardAtmospherePressure(numberIn('--elevation', options.elevation, -400, 4500)),
    compressorSpeed: numberIn('--speed', options.speed, 300, 9000) / 60,
    condenserAir: 'fan' as const,
    blower: 1,
  };
  const hardware = typicalHardware(layout, compressor, refrigerant);
  const sound = solveSystem(hardware, conditions);
  const severity = numberIn('--severity', options.severity, 0, 1);
  const seen = code === null ? sound : solveSystem(hardware, conditions, [{ code, severity }]);
  mkdirSync(options.out, { recursive: true });
  const name = code ?? 'sound';
  const files = {
    'pressure-enthalpy.svg': pressureEnthalpyDiagram(
      refrigerant,
      { name, points: seen.cycle },
      code === null ? null : { name: 'sound', points: sound.cycle },
    ),
    'circuit.svg': circuitDiagram(layout, seen.readings, {
      sound: code === null ? null : sound.readings,
      restriction: (code !== null && RESTRICTS[code]) || null,
    }),
  };
  for (const [file, svg] of Object.entries(files)) {
    writeFileSync(join(options.out, file), svg);
    console.log(join(options.out, file));
  }
  if (seen.verdict !== 'converged') console.log(`The model's verdict: ${seen.verdict}.`);
}

function oneOf<T extends string>(option: string, value: string, allowed: readonly T[]): T {
  const found = allowed.find((one) => one === value);
  if (!found) throw new Error(`${option} must be one of ${allowed.join(', ')}.`);
  return found;
}

function numberIn(option: string, text: string, min: number, max: number): number {
  const value = Number(text);
  if (!(value >= min && value <= max)) throw new Error(`${option} must be a number from ${min} to ${max}.`);
  return value;
}
