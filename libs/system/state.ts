import type { Compression } from './compressor.js';
import type { CondenserTally, FaceConductance } from './condenser.js';
import type { SuctionControl } from './control.js';
import type { EvaporatorOutcome } from './evaporator.js';
import type { Stream } from './stream.js';

/**
 * Every state and flow of one evaluation of the circuit, written in place so that a solve allocates nothing. Pressures on the high side are the
 * refrigerant's own; `pDischarge` is the total the compressor works against. Enthalpies J/kg, temperatures K, masses kg, flows kg/s, heats W.
 */
export interface CircuitState {
  u: number;
  v: number;
  readonly control: SuctionControl;
  readonly compression: Compression;
  readonly stream: Stream;
  readonly face: FaceConductance;
  readonly condenser: CondenserTally;
  readonly evaporator: EvaporatorOutcome;
  readonly F: Float64Array;
  pSuction: number;
  hSuction: number;
  tSuction: number;
  pDischarge: number;
  tDischarge: number;
  headShare: number;
  /** Flow on the high side (while a cycling clutch is closed) and the mean flow through the low side. */
  flowHigh: number;
  flow: number;
  speed: number;
  dischargeHeat: number;
  pCondenserIn: number;
  hCondenserIn: number;
  pBeforeRestriction: number;
  pAfterRestriction: number;
  hRestriction: number;
  pReceiver: number;
  hReceiverIn: number;
  pAfterCartridge: number;
  pCondenserOut: number;
  hCondenserOut: number;
  pBeforeDrier: number;
  pAfterDrier: number;
  pValveIn: number;
  hLiquid: number;
  hValveIn: number;
  exchangerHeat: number;
  pEvaporatorIn: number;
  pEvaporatorOut: number;
  hEvaporatorOut: number;
  hEvaporatorNeeded: number;
  tEvaporator: number;
  superheat: number;
  opening: number;
  expansionFlow: number;
  frontFlow: number;
  secondFlow: number;
  secondHeat: number;
  hSecondOut: number;
  suctionHeat: number;
  capacity: number;
  condenserAirRise: number;
  massDischargeLine: number;
  massLiquidLine: number;
  massSuctionLine: number;
  massElsewhere: number;
  /** Saturated densities at the vessel, its needed level, and how much wetter than it can pass on what enters is, J/kg. */
  levelMassLiquid: number;
  levelMassVapour: number;
  level: number;
  wetness: number;
  barometer: number;
}

export function newCircuitState(): CircuitState {
  return {
    u: 0,
    v: 0,
    control: { pressure: 0, stroke: 0, onFraction: 0 },
    compression: { flow: 0, hDischarge: 0, power: 0 },
    stream: { p: 0, h: 0 },
    face: { vapour: 0, condensing: 0, liquid: 0 },
    condenser: { mass: 0, heat: 0 },
    evaporator: { hOut: 0, heat: 0, tSurface: 0, tAirOut: 0, humidityOut: 0, mass: 0 },
    F: new Float64Array(3),
    pSuction: 0,
    hSuction: 0,
    tSuction: 0,
    pDischarge: 0,
    tDischarge: 0,
    headShare: 0,
    flowHigh: 0,
    flow: 0,
    speed: 0,
    dischargeHeat: 0,
    pCondenserIn: 0,
    hCondenserIn: 0,
    pBeforeRestriction: 0,
    pAfterRestriction: 0,
    hRestriction: 0,
    pReceiver: 0,
    hReceiverIn: 0,
    pAfterCartridge: 0,
    pCondenserOut: 0,
    hCondenserOut: 0,
    pBeforeDrier: 0,
    pAfterDrier: 0,
    pValveIn: 0,
    hLiquid: 0,
    hValveIn: 0,
    exchangerHeat: 0,
    pEvaporatorIn: 0,
    pEvaporatorOut: 0,
    hEvaporatorOut: 0,
    hEvaporatorNeeded: 0,
    tEvaporator: 0,
    superheat: 0,
    opening: 0,
    expansionFlow: 0,
    frontFlow: 0,
    secondFlow: 0,
    secondHeat: 0,
    hSecondOut: 0,
    suctionHeat: 0,
    capacity: 0,
    condenserAirRise: 0,
    massDischargeLine: 0,
    massLiquidLine: 0,
    massSuctionLine: 0,
    massElsewhere: 0,
    levelMassLiquid: 0,
    levelMassVapour: 0,
    level: 0,
    wetness: 0,
    barometer: 0,
  };
}
