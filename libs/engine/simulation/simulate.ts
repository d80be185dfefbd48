import { OutOfRange } from '#libs/numeric/index.js';
import { fluidTables } from '#libs/refrigerant/index.js';
import {
  type Conditions,
  type PlatformHardware,
  randomHardware,
  SIMULATED_FAULTS,
  type SimulatedFault,
  type SolverPoint,
  solveSystem,
} from '#libs/system/index.js';
import type { CompressorKind, FaultCode, Layout, RefrigerantName } from '../codes.js';

/** A condition set in SI, from scaled conditions. */
export interface SimulatedWeather {
  readonly condenserAirK: number;
  readonly evaporatorAirK: number;
  readonly relativeHumidity: number;
  readonly speed: number;
  readonly blower: number;
  readonly barometerPa: number;
}

export interface Simulated {
  /** The engine's dimensions; see dims.ts. */
  readonly dims: Float64Array;
  readonly capacityW: number;
  /** Shaft power, mean over a clutch cycle. */
  readonly powerW: number;
  /** Regime the solution is in; systems of one regime answer alike. */
  readonly regime: string;
}

/** A system model as the engine needs it: one hardware draw (uniform numbers), one weather, one fault of one size; null when there is no such vehicle. */
export type Simulator = (
  system: { readonly layout: Layout; readonly compressor: CompressorKind; readonly refrigerant: RefrigerantName },
  hardware: Float64Array,
  weather: SimulatedWeather,
  fault: FaultCode,
  size: number,
) => Simulated | null;

/** Uniform numbers a hardware draw takes. */
export const HARDWARE_DRAWS = 12;

/** Hardware drawn for each kind of system; every fault of the kind is simulated on the same systems. */
const POOL = 48;

/** Deterministic uniform numbers (mulberry32, public domain). */
function uniform(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

const pools = new Map<string, PlatformHardware[]>();
function pool(layout: Layout, compressor: CompressorKind, refrigerant: RefrigerantName): PlatformHardware[] {
  const key = `${layout} ${compressor} ${refrigerant}`;
  let systems = pools.get(key);
  if (!systems) {
    systems = [];
    for (let seed = 1; systems.length < POOL && seed < 4 * POOL; seed++) {
      try {
        systems.push(randomHardware(uniform(seed * 7919), { layout, compressor, refrigerant }));
      } catch {
        // A draw without a design point is no vehicle.
      }
    }
    pools.set(key, systems);
  }
  return systems;
}

/** Severity of the system model for a size in the engine's terms: charge faults are shares of the charge, the others as they are. */
function severityOf(code: FaultCode, size: number): number {
  if (code === 'undercharge') return size / 0.7;
  if (code === 'overcharge') return size / 0.5;
  return size;
}

const SIMULATED = new Set<string>(SIMULATED_FAULTS);

/**
 * The steady system model as a simulator. Each starts its solves from its own last ones, so that the same questions in the same order have the same
 * answers to the last digit.
 */
export function steadySimulator(): Simulator {
  const warm = new Map<string, SolverPoint>();
  return (system, u, weather, code, size) => {
    if (code !== 'healthy' && !SIMULATED.has(code)) return null;
    const systems = pool(system.layout, system.compressor, system.refrigerant);
    const index = Math.min(Math.floor(u[0]! * systems.length), systems.length - 1);
    const hardware = systems[index]!;
    const conditions: Conditions = {
      condenserAirTemperature: weather.condenserAirK,
      evaporatorAirTemperature: weather.evaporatorAirK,
      evaporatorAirHumidity: weather.relativeHumidity,
      barometricPressure: weather.barometerPa,
      compressorSpeed: weather.speed,
      condenserAir: u[1]! < 0.15 ? 'fan-and-shop-fan' : 'fan',
      blower: weather.blower,
    };
    const key = `${system.layout} ${system.compressor} ${system.refrigerant} ${index}`;
    try {
      const faults =
        code === 'healthy'
          ? []
          : [{ code: code as SimulatedFault, severity: Math.min(severityOf(code, size), 1), place: 0.2 + 0.7 * u[2]! }];
      const result = solveSystem(hardware, conditions, faults, warm.get(key) ?? null);
      // A sound system that a safety device stops is not in service; a faulty one is read at the threshold.
      if (result.verdict === 'not-converged' || (code === 'healthy' && result.verdict !== 'converged')) return null;
      // Nor is one whose valve gets vapour: a draw with too small a condenser or receiver for this air.
      const valve = system.layout !== 'orifice-accumulator';
      if (code === 'healthy' && valve && (result.regimes.flashGas || result.regimes.valveFullyOpen)) return null;
      if (code === 'healthy' && result.verdict === 'converged') warm.set(key, result.point);
      return simulated(system, weather, code, severityOf(code, size), result.readings, result.regimes, {
        ductK: 1 + 2 * u[3]!,
        shellShare: 0.1 + 0.2 * u[4]!,
        layeredK: 6 * u[5]!,
      });
    } catch (error) {
      // Outside the property tables or the model's range there is no vehicle in service.
      if (error instanceof OutOfRange) return null;
      throw error;
    }
  };
}

/** What the system model leaves out between the refrigerant and a probe. */
interface Surroundings {
  /** Ducts and the air that passes the coil give back 1 to 3 K between coil and vent (common practice). */
  readonly ductK: number;
  /**
   * Shell and discharge line lose heat, and a probe on the pipe reads below the gas: 0.1 to 0.3 of what the gas stands above the air. Trade limits for the line
   * lie that far below those for the gas at the valve (common practice, from memory); the model's compressor loses no heat.
   */
  readonly shellShare: number;
  /**
   * How far below saturation liquid may leave the condenser for a separate receiver that is not empty. In equilibrium with the vapour in it, as the model has it,
   * not at all; the trade expects about 5 K of these systems, for liquid lies in layers and the bottle cools (common practice, from memory).
   */
  readonly layeredK: number;
}

function simulated(
  system: { readonly layout: Layout; readonly compressor: CompressorKind; readonly refrigerant: RefrigerantName },
  weather: SimulatedWeather,
  code: FaultCode,
  severity: number,
  r: ReturnType<typeof solveSystem>['readings'],
  regimes: ReturnType<typeof solveSystem>['regimes'],
  { ductK, shellShare, layeredK }: Surroundings,
): Simulated {
  const f = fluidTables(system.refrigerant);
  const saturation = (p: number) => f.tSat(Math.min(Math.max(p, f.pMin), f.pSaturationMax));
  const orifice = system.layout === 'orifice-accumulator';
  // Speed against the speed asked: what slip and limits take away, not what the control gives back.
  const ratio = code === 'clutch-slip' ? 1 - 0.5 * severity : code === 'electric-compressor-limited' ? 1 - 0.7 * severity : 1;
  const layered = system.layout === 'valve-receiver' && regimes.vessel === 'partial' ? layeredK : 0;
  const command = system.compressor === 'electric' ? Math.min(r.compressorSpeed / (weather.speed * ratio), 1) : r.stroke;
  const limited = regimes.clutchCycling || regimes.highPressureCycling || (system.compressor !== 'fixed-clutch' && command > 0.985);
  return {
    regime: `${limited ? 'limited' : 'free'}${regimes.flashGas || regimes.valveFullyOpen ? ' starved' : ''}`,
    capacityW: r.capacity,
    powerW: r.compressorPower,
    dims: Float64Array.of(
      saturation(r.lowSide['compressor-suction']),
      saturation(orifice ? r.lowSide.accumulator : r.lowSide['evaporator-outlet']),
      saturation(r.highSide['compressor-discharge']),
      saturation(r.highSide['condenser-inlet']),
      saturation(r.highSide['condenser-outlet']),
      saturation(r.highSide['liquid-line-after-drier']),
      (r.suctionTemperature + r.evaporatorOutletTemperature) / 2,
      Math.max(r.condenserOutletTemperature - layered, weather.condenserAirK),
      Math.max(r.liquidAfterDrierTemperature - layered, weather.condenserAirK),
      r.dischargeTemperature - shellShare * (r.dischargeTemperature - weather.condenserAirK),
      r.ventTemperature + ductK,
      r.evaporatorAirOutTemperature,
      command,
      r.onFraction,
      ratio,
    ),
  };
}
