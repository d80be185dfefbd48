import { OutOfRange } from '#libs/numeric/index.js';
import { humidityRatioOf } from './air-setting.js';
import type { CompressorState } from './compressor.js';
import { CP_AIR } from './condenser.js';
import type { ControlLimits } from './control.js';
import type { EvaporatorAir } from './evaporator.js';
import type { FaultEffects } from './fault-effects.js';
import { CONDENSER_AIR_SHARE, type Conditions, type PlatformHardware } from './hardware.js';
import { type Properties, propertiesOf } from './properties.js';

/** Specific gas constant of dry air, J/(kg K), and the density at which face conductances are stated, kg/m3. */
export const R_AIR = 287.05;
const SEA_LEVEL_DENSITY = 1.18;
/** Pressures a circuit may have: the tables' end, less a margin for the drop to the first section. */
const HEAD_MARGIN = 0.995;
/** While running, air gathers where gas is: this share of the condenser's and half of a receiver's volume. */
const GAS_SHARE_CONDENSER = 0.7;
const GAS_SHARE_RECEIVER = 0.5;
/** How far above the entering air the gas in the condenser is taken to be for the air's own partial pressure, K. */
const GAS_RISE = 15;
/** Condenser conductance lost per bar of air, 1/bar. source   fault catalogue: about 6 % a bar. */
const BLANKET = 0.06;

/** Everything the equations need, with conditions and faults worked in: plain numbers, made once for a solve. */
export interface Model {
  readonly hardware: PlatformHardware;
  readonly conditions: Conditions;
  readonly effects: FaultEffects;
  readonly fluid: Properties;
  readonly charge: number;
  /** Solve with the vessel at a partial level whatever the charge (to size a charge), or null. */
  readonly onPlateau: boolean;
  /** Lowest compressor discharge pressure limit that the control or the tables impose, Pa, and why. */
  readonly headLimit: number;
  readonly headLimitReason: 'high-pressure-cut-out' | 'relief' | 'table-end';
  readonly limits: ControlLimits;
  readonly compressorState: CompressorState;
  readonly speed: number;
  /** Condenser: air, kg/s, its temperature, K; air-side conductance, W/K; refrigerant-side share. */
  readonly condenserAirFlow: number;
  readonly condenserAirT: number;
  readonly condenserAirConductance: number;
  readonly condenserInside: number;
  /** Section shares of the face: before the restriction, after it, behind the receiver. */
  readonly firstShare: number;
  readonly secondShare: number;
  readonly subcoolShare: number;
  readonly passageResistance: number;
  readonly restriction: number;
  readonly cartridge: number;
  /** Partial pressure of air on the high side while running, Pa. */
  readonly airPressure: number;
  readonly dischargeResistance: number;
  readonly liquidResistance: number;
  readonly drierResistance: number;
  readonly suctionResistance: number;
  readonly tBay: number;
  readonly evaporatorAir: EvaporatorAir;
  readonly evaporatorInside: number;
  readonly evaporatorVolume: number;
  readonly condenserVolume: number;
  /** Second evaporator's contact flow (kg/s) with its valve's normal share, and the flow area of a valve held open, m2. */
  readonly secondContactFlow: number;
  readonly secondOpenArea: number;
}

function check(quantity: string, value: number, min: number, max: number, unit: string): void {
  if (!(value >= min && value <= max)) throw new OutOfRange(quantity, value, min, max, unit);
}

/** Ranges of the conditions the model answers for. */
export function checkConditions(c: Conditions): void {
  check('condenser air temperature', c.condenserAirTemperature, 263.15, 333.15, 'K');
  check('evaporator air temperature', c.evaporatorAirTemperature, 263.15, 343.15, 'K');
  check('evaporator air humidity', c.evaporatorAirHumidity, 0, 1, '');
  check('barometric pressure', c.barometricPressure, 50_000, 110_000, 'Pa');
  check('compressor speed', c.compressorSpeed, 5, 170, '1/s');
  check('blower share', c.blower, 0.1, 1, '');
  check('command', c.command ?? 1, 0, 1, '');
}

/** Works conditions and faults into the hardware. OutOfRange for conditions the model does not answer for. */
export function prepareModel(hardware: PlatformHardware, conditions: Conditions, effects: FaultEffects, onPlateau = false): Model {
  checkConditions(conditions);
  const { condenser } = hardware;
  const fluid = propertiesOf(effects.stranger ?? hardware.refrigerant);
  const Ta = conditions.condenserAirTemperature + effects.condenserAirRise;
  const density = conditions.barometricPressure / (R_AIR * Ta);
  const condenserAirFlow = condenser.airflow * CONDENSER_AIR_SHARE[conditions.condenserAir] * effects.condenserAirflow * density;
  const ratedAir = condenser.airflow * SEA_LEVEL_DENSITY;
  const receiver = hardware.layout === 'orifice-accumulator' ? 0 : hardware.vessel.volume;
  const gasVolume = GAS_SHARE_CONDENSER * condenser.volume + GAS_SHARE_RECEIVER * receiver;
  const airPressure = (effects.airMass * R_AIR * (Ta + GAS_RISE)) / gasVolume;
  const blanket = 1 / (1 + BLANKET * (airPressure / 1e5));
  const oil = 1 - effects.oilShare;
  const place = Math.min(Math.max(effects.passagePlace ?? condenser.blockagePlace, 0.02), 0.98);
  const condensing = 1 - condenser.subcoolShare;
  const limit = headLimitOf(hardware, effects, fluid);
  return {
    hardware,
    conditions,
    effects,
    fluid,
    charge: hardware.charge * effects.chargeShare,
    onPlateau,
    headLimit: limit.pressure,
    headLimitReason: limit.reason,
    limits: controlLimits(hardware, conditions, effects, fluid),
    compressorState: { leakage: effects.leakage, isentropicShare: effects.isentropic },
    speed: conditions.compressorSpeed * effects.speed,
    condenserAirFlow,
    condenserAirT: Ta,
    condenserAirConductance: condenser.airConductance * effects.condenserFace * blanket * Math.sqrt(condenserAirFlow / ratedAir),
    condenserInside: effects.condenserInside * blanket,
    firstShare: condensing * place,
    secondShare: condensing * (1 - place),
    subcoolShare: condenser.subcoolShare,
    passageResistance: condenser.resistance,
    restriction: condenser.resistance * effects.passageRestriction,
    cartridge: condenser.cartridgeResistance + effects.cartridge,
    airPressure,
    dischargeResistance: hardware.dischargeLine.resistance + effects.dischargeLine,
    liquidResistance: hardware.liquidLine.resistance,
    drierResistance: hardware.drierResistance + effects.drier,
    suctionResistance: hardware.suctionLine.resistance * effects.suctionLine,
    tBay: Ta + hardware.bayRise,
    evaporatorAir: evaporatorAirOf(hardware, conditions, effects),
    evaporatorInside: effects.evaporatorInside,
    evaporatorVolume: hardware.evaporator.volume * oil,
    condenserVolume: condenser.volume * oil,
    secondContactFlow: hardware.secondEvaporator
      ? hardware.secondEvaporator.airFlow *
        hardware.secondEvaporator.contactFactor *
        (effects.secondValve === 'shut' ? 1 - effects.secondShare : 1)
      : 0,
    secondOpenArea:
      hardware.secondEvaporator && effects.secondValve === 'open' ? hardware.secondEvaporator.flowArea * effects.secondShare : 0,
  };
}

/** The lowest of: the cut-out when its transducer sits at the compressor, the relief valve, the end of the property tables. */
function headLimitOf(
  hardware: PlatformHardware,
  effects: FaultEffects,
  fluid: Properties,
): { pressure: number; reason: Model['headLimitReason'] } {
  const end = fluid.tables.pMax * HEAD_MARGIN;
  const { control } = hardware;
  const atCompressor = hardware.highSideTransducer === 'compressor-discharge';
  const cutOut = atCompressor ? control.highCutOut - effects.transducerBias : Number.POSITIVE_INFINITY;
  const pressure = Math.min(cutOut, control.relief, end);
  return { pressure, reason: pressure === cutOut ? 'high-pressure-cut-out' : pressure === control.relief ? 'relief' : 'table-end' };
}

function controlLimits(hardware: PlatformHardware, conditions: Conditions, effects: FaultEffects, fluid: Properties): ControlLimits {
  const { compressor, control } = hardware;
  const variable = compressor.kind === 'variable' || compressor.kind === 'variable-commanded';
  const command = compressor.kind === 'variable-commanded' ? (conditions.command ?? 1) : 1;
  // A sensor that reads wrong moves every suction threshold along the saturation curve the control was laid out for.
  const nominal = propertiesOf(hardware.refrigerant);
  const moved = (p: number): number =>
    effects.evaporatorSensorBias === 0 ? p : nominal.pSat(nominal.tables.tSat(p) - effects.evaporatorSensorBias);
  const set = control.setPoint + (1 - command) * (control.setPointAtNoCommand - control.setPoint);
  const least = compressor.kind === 'fixed-clutch' ? 1 : compressor.minimumStroke;
  const maximumStroke = variable ? effects.strokeMaximum : 1;
  return {
    minimumStroke: Math.min(variable ? Math.max(least, effects.strokeMinimum) : least, maximumStroke * 0.999),
    maximumStroke,
    minimumOn: 0.12,
    setPoint: Math.max(moved(set), 0.5 * fluid.tables.pMin + 40_000),
    cutOut: moved(control.clutchCutOut),
    cutIn: moved(control.clutchCutIn),
  };
}

/** Air entering the evaporator: flow by volume through the blower, mixed with outside air where a door lets it in. */
function evaporatorAirOf(hardware: PlatformHardware, conditions: Conditions, effects: FaultEffects): EvaporatorAir {
  const { evaporator } = hardware;
  const p = conditions.barometricPressure;
  const W1 = humidityRatioOf(conditions.evaporatorAirTemperature, conditions.evaporatorAirHumidity, p);
  const tOutside = conditions.outsideTemperature ?? conditions.condenserAirTemperature;
  const W2 = humidityRatioOf(tOutside, conditions.outsideHumidity ?? 0.4, p);
  const share = effects.outsideShare;
  const T = conditions.evaporatorAirTemperature + share * (tOutside - conditions.evaporatorAirTemperature);
  const W = W1 + share * (W2 - W1);
  const flow = (evaporator.airflow * conditions.blower * effects.evaporatorAirflow * p) / (R_AIR * T);
  const rated = evaporator.airflow * SEA_LEVEL_DENSITY;
  const ua = -Math.log(evaporator.bypassFactor) * rated * CP_AIR * Math.sqrt(flow / rated) * effects.evaporatorFace;
  return { flow, T, W, pressure: p, contact: -Math.expm1(-ua / (flow * CP_AIR)) };
}
