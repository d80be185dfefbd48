import type { FluidName } from '#libs/refrigerant/index.js';
import type {
  CompressorHardware,
  CompressorKind,
  CondenserHardware,
  ControlHardware,
  EvaporatorHardware,
  Layout,
  PlatformHardware,
} from './hardware.js';

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
    airConductance: 820,
    vapourConductance: 420,
    condensingConductance: 2_600,
    liquidConductance: 700,
    resistance: 4.2e9,
    volume: 0.55e-3,
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
  volume: 0.5e-3,
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
    vessel: orifice ? { volume: 0.75e-3, usableShare: 0.75, bleed: 0.03 } : { volume: 0.28e-3, usableShare: 0.9, bleed: 0 },
    expansion: orifice
      ? { kind: 'orifice-tube', diameter: refrigerant === 'R-134a' ? 1.42e-3 : 1.47e-3, length: 38.4e-3 }
      : { kind: 'thermostatic-valve', flowArea: 1.75e-6, staticSuperheat: 4, openingSuperheat: 8 },
    evaporator: EVAPORATOR,
    secondEvaporator: null,
    internalExchanger: 0,
    dischargeLine: { resistance: 1e9, volume: 0.12e-3, conductance: 1.5 },
    liquidLine: { resistance: 6e9, volume: 0.09e-3, conductance: 0 },
    drierResistance: layout === 'valve-receiver' ? 5e9 : 0,
    suctionLine: { resistance: 2.2e8, volume: 0.2e-3, conductance: 2 },
    bayRise: 20,
    control: typicalControl(refrigerant, kind),
    highSidePort: 'compressor-discharge',
    highSideTransducer: orifice ? 'compressor-discharge' : 'liquid-line-before-drier',
    lowSidePort: orifice ? 'accumulator' : 'compressor-suction',
  };
}
