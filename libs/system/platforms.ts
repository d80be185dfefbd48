import type { FluidName } from '#libs/refrigerant/index.js';
import { COMPRESSOR_KINDS, LAYOUTS, type RefrigerantName } from '#libs/vocabulary/index.js';
import type {
  CompressorHardware,
  CompressorKind,
  CondenserHardware,
  ControlHardware,
  EvaporatorHardware,
  HighSidePlace,
  Layout,
  PlatformHardware,
} from './hardware.js';

import { fitCharge, type Reserve, TYPICAL_RESERVE } from './sizing.js';

const BAR = 1e5;

/** Compressors of a family car. source   component ranges from memory: fixed 120-215 cc, variable 110-190 cc, electric scroll 27-45 cc. */
function typicalCompressor(kind: CompressorKind): CompressorHardware {
  const displacement = { 'fixed-clutch': 155e-6, variable: 150e-6, 'variable-commanded': 150e-6, electric: 34e-6 }[kind];
  return {
    kind,
    displacement,
    minimumStroke: kind === 'fixed-clutch' ? 1 : kind === 'electric' ? 0.15 : 0.05,
    volumetricBase: kind === 'electric' ? 0.93 : 0.86,
    volumetricPerRatio: kind === 'electric' ? 0.025 : 0.045,
    // Stated per rpm in the ranges (2e-5); a scroll's filling hardly falls with speed.
    volumetricPerSpeed: kind === 'electric' ? 1e-4 : 1.2e-3,
    isentropicBase: kind === 'electric' ? 0.66 : 0.65,
    isentropicPerSpeed: kind === 'electric' ? 2e-4 : 2e-3,
    isentropicStrokeLoss: kind === 'electric' ? 0.15 : 0.45,
    volume: 0.2e-3,
  };
}

function typicalCondenser(layout: Layout): CondenserHardware {
  return {
    airflow: 0.42,
    airConductance: 760,
    vapourConductance: 420,
    condensingConductance: 2_600,
    liquidConductance: 700,
    resistance: 4.2e9,
    volume: 0.72e-3,
    subcoolShare: layout === 'valve-integral-receiver' ? 0.18 : 0,
    cartridgeResistance: layout === 'valve-integral-receiver' ? 5e9 : 0,
    blockagePlace: 0.5,
    passes: 4,
  };
}

const EVAPORATOR: EvaporatorHardware = {
  airflow: 0.115,
  bypassFactor: 0.1,
  boilingConductance: 750,
  vapourConductance: 180,
  resistance: 4e8,
  volume: 0.62e-3,
};

function typicalControl(refrigerant: FluidName, kind: CompressorKind): ControlHardware {
  const r134a = refrigerant === 'R-134a';
  // R-1234yf boils at a slightly higher pressure for the same temperature: 0.24 bar at 0 °C.
  const shift = r134a ? 0 : 0.22 * BAR;
  return {
    clutchCutOut: 2.15 * BAR + shift,
    clutchCutIn: 3.2 * BAR + shift,
    setPoint: (kind === 'electric' ? 2.75 : 2.8) * BAR + shift,
    setPointBand: 0.12 * BAR,
    setPointAtNoCommand: 4.8 * BAR + shift,
    lowCutOut: 1.1 * BAR,
    highCutOut: (r134a ? 30 : 28.5) * BAR,
    relief: (r134a ? 36 : 34) * BAR,
  };
}

/** Volumes and resistances of a typical platform before its charge is worked out. */
export function typicalParts(layout: Layout, kind: CompressorKind, refrigerant: FluidName): PlatformHardware {
  const orifice = layout === 'orifice-accumulator';
  return {
    layout,
    refrigerant,
    charge: 0.6,
    compressor: typicalCompressor(kind),
    condenser: typicalCondenser(layout),
    vessel: orifice ? { volume: 0.75e-3, usableShare: 0.75, bleed: 0.01 } : { volume: 0.28e-3, usableShare: 0.9, bleed: 0 },
    // Tubes in service are 1.45 to 1.83 mm wide, and a sound system with one subcools by 6 to 11 K (trade, from memory).
    expansion: orifice
      ? { kind: 'orifice-tube', diameter: refrigerant === 'R-134a' ? 1.5e-3 : 1.55e-3, length: 38.4e-3 }
      : { kind: 'thermostatic-valve', flowArea: 1.75e-6, staticSuperheat: 4, openingSuperheat: 8 },
    evaporator: EVAPORATOR,
    secondEvaporator: null,
    internalExchanger: 0,
    dischargeLine: { resistance: 1e9, volume: 0.15e-3, conductance: 1.5 },
    liquidLine: { resistance: 6e9, volume: 0.115e-3, conductance: 0 },
    drierResistance: layout === 'valve-receiver' ? 5e9 : 0,
    suctionLine: { resistance: 2.2e8, volume: 0.25e-3, conductance: 2 },
    bayRise: 20,
    control: typicalControl(refrigerant, kind),
    highSidePort: 'compressor-discharge',
    highSideTransducer: orifice ? 'compressor-discharge' : 'liquid-line-before-drier',
    lowSidePort: orifice ? 'accumulator' : 'compressor-suction',
  };
}

const typical = new Map<string, PlatformHardware>();

/** A typical platform of its kind, charge fitted to its volumes. */
export function typicalHardware(layout: Layout, compressor: CompressorKind, refrigerant: RefrigerantName): PlatformHardware {
  const key = `${layout} ${compressor} ${refrigerant}`;
  let one = typical.get(key);
  if (!one) {
    const parts = typicalParts(layout, compressor, refrigerant);
    one = fitCharge(parts, TYPICAL_RESERVE[layout === 'orifice-accumulator' ? 'accumulator' : 'receiver']);
    typical.set(key, one);
  }
  return one;
}

/** A rear evaporator or a battery chiller of about a third of the front evaporator, with the compressor and condenser a step larger, charge fitted. */
export function withSecondEvaporator(base: PlatformHardware, share = 0.35): PlatformHardware {
  const { compressor, condenser, evaporator, expansion } = base;
  const more = 1 + 0.6 * share;
  return fitCharge(
    {
      ...base,
      compressor: { ...compressor, displacement: compressor.displacement * more },
      condenser: {
        ...condenser,
        airflow: condenser.airflow * more,
        airConductance: condenser.airConductance * more,
        condensingConductance: condenser.condensingConductance * more,
        vapourConductance: condenser.vapourConductance * more,
        liquidConductance: condenser.liquidConductance * more,
        resistance: condenser.resistance / more ** 2,
      },
      secondEvaporator: {
        airFlow: share * evaporator.airflow * 1.18,
        contactFactor: 0.7,
        superheat: 6,
        flowArea: (expansion.kind === 'thermostatic-valve' ? expansion.flowArea : 1.75e-6) * share,
        volume: share * evaporator.volume,
      },
    },
    TYPICAL_RESERVE[base.layout === 'orifice-accumulator' ? 'accumulator' : 'receiver'],
  );
}

/** Layout and compressor pairs that are built: an orifice tube goes with a fixed clutch or an internally controlled compressor. */
export function isBuilt(layout: Layout, kind: CompressorKind): boolean {
  return layout !== 'orifice-accumulator' || kind === 'fixed-clutch' || kind === 'variable';
}
const BAR_HIGH: readonly HighSidePlace[] = ['compressor-discharge', 'condenser-inlet', 'condenser-outlet', 'liquid-line-before-drier'];

/**
 * A random platform: every part drawn, independently and log-evenly, around the typical one within the ranges such parts have.
 *
 * rng   numbers in [0, 1)
 * source   component ranges from memory; spreads around the typical part are ours.
 */
export function randomHardware(
  rng: () => number,
  choice: Partial<Pick<PlatformHardware, 'layout' | 'refrigerant'>> & { compressor?: CompressorKind } = {},
): PlatformHardware {
  const pick = <T>(of: readonly T[]): T => of[Math.min(Math.floor(rng() * of.length), of.length - 1)]!;
  const around = (value: number, factor: number): number => value * factor ** (2 * rng() - 1);
  const within = (a: number, b: number): number => a + (b - a) * rng();
  const layout = choice.layout ?? pick(LAYOUTS);
  const kinds = COMPRESSOR_KINDS.filter((kind) => isBuilt(layout, kind));
  const kind = choice.compressor ?? pick(kinds);
  const drawn = rng() < 0.6 ? 'R-134a' : 'R-1234yf';
  const refrigerant = choice.refrigerant ?? drawn;
  const base = typicalParts(layout, kind, refrigerant);
  // A bigger car has more of everything; parts then differ a little from one another.
  const size = around(1, 1.25);
  const sized = (value: number, factor: number): number => around(value * size, factor);
  const { compressor, condenser, evaporator, control } = base;
  const range = {
    'fixed-clutch': [125e-6, 205e-6],
    variable: [115e-6, 185e-6],
    'variable-commanded': [115e-6, 185e-6],
    electric: [27e-6, 45e-6],
  } as const;
  const [least, most] = range[kind];
  const resistance = 1 / size ** 2;
  const expansion: PlatformHardware['expansion'] =
    base.expansion.kind === 'orifice-tube'
      ? { ...base.expansion, diameter: Math.min(Math.max(around(base.expansion.diameter * Math.sqrt(size), 1.06), 1.2e-3), 1.85e-3) }
      : {
          ...base.expansion,
          flowArea: sized(base.expansion.flowArea, 1.15),
          staticSuperheat: within(3, 5),
          openingSuperheat: within(6, 10),
        };
  const setPoint = control.setPoint + within(-0.15, 0.3) * BAR;
  const cutOut = control.clutchCutOut + within(-0.15, 0.3) * BAR;
  const parts: PlatformHardware = {
    ...base,
    compressor: {
      ...compressor,
      displacement: Math.min(Math.max(sized(compressor.displacement, 1.08), least), most),
      volumetricBase: compressor.volumetricBase + within(-0.04, 0.04),
      isentropicBase: compressor.isentropicBase + within(-0.06, 0.06),
    },
    condenser: {
      ...condenser,
      airflow: sized(condenser.airflow, 1.15),
      airConductance: sized(condenser.airConductance, 1.2),
      vapourConductance: sized(condenser.vapourConductance, 1.3),
      condensingConductance: sized(condenser.condensingConductance, 1.3),
      liquidConductance: sized(condenser.liquidConductance, 1.3),
      resistance: around(condenser.resistance * resistance, 1.5),
      volume: sized(condenser.volume, 1.2),
      subcoolShare: condenser.subcoolShare > 0 ? within(0.12, 0.24) : 0,
      cartridgeResistance: around(condenser.cartridgeResistance * resistance, 1.5),
      blockagePlace: within(0.25, 0.75),
      passes: 2 + Math.floor(rng() * 4),
    },
    evaporator: {
      ...evaporator,
      airflow: Math.min(sized(evaporator.airflow, 1.12), 0.14),
      bypassFactor: within(0.06, 0.18),
      boilingConductance: sized(evaporator.boilingConductance, 1.2),
      vapourConductance: sized(evaporator.vapourConductance, 1.2),
      resistance: around(evaporator.resistance * resistance, 1.4),
      volume: sized(evaporator.volume, 1.2),
    },
    expansion,
    internalExchanger: refrigerant === 'R-1234yf' && layout !== 'orifice-accumulator' && rng() < 0.4 ? within(0.2, 0.45) : 0,
    dischargeLine: {
      ...base.dischargeLine,
      resistance: around(base.dischargeLine.resistance * resistance, 1.6),
      volume: sized(base.dischargeLine.volume, 1.3),
    },
    liquidLine: {
      ...base.liquidLine,
      resistance: around(base.liquidLine.resistance * resistance, 1.6),
      volume: sized(base.liquidLine.volume, 1.3),
    },
    drierResistance: around(base.drierResistance * resistance, 1.5),
    suctionLine: {
      ...base.suctionLine,
      resistance: around(base.suctionLine.resistance * resistance, 1.6),
      volume: sized(base.suctionLine.volume, 1.3),
    },
    bayRise: within(10, 30),
    control: {
      ...control,
      setPoint,
      setPointBand: within(0.06, 0.2) * BAR,
      clutchCutOut: cutOut,
      clutchCutIn: cutOut + within(0.8, 1.5) * BAR,
    },
    highSidePort: pick(BAR_HIGH),
    highSideTransducer: pick(BAR_HIGH),
    lowSidePort:
      layout === 'orifice-accumulator' ? pick(['accumulator', 'compressor-suction']) : pick(['compressor-suction', 'evaporator-outlet']),
  };
  const reserve: Reserve =
    layout === 'orifice-accumulator'
      ? { below: within(0.25, 0.4), above: within(0.2, 0.35) }
      : { below: within(0.12, 0.28), above: within(0.1, 0.25) };
  const fitted = fitCharge(parts, reserve);
  // Rear evaporators and battery chillers go with valves that hold their own superheat.
  return layout !== 'orifice-accumulator' && rng() < 0.1 ? withSecondEvaporator(fitted, within(0.25, 0.5)) : fitted;
}
