import { compressorOff } from './compressor-off.js';
import { LEAST_HEAD_SHARE } from './control.js';
import type { FaultEffects } from './fault-effects.js';
import { NO_EFFECTS } from './fault-effects.js';
import { effectsOf, type Fault } from './faults.js';
import { firstGuess, type GuessVariant } from './first-guess.js';
import type { Conditions, PlatformHardware } from './hardware.js';
import { type Model, prepareModel } from './model.js';
import { LOWEST_PRESSURE } from './properties.js';
import { closureOf, cycleOf, readingsOf, regimesOf } from './readings.js';
import type { SystemReadings, SystemResult, Verdict, VerdictReason } from './result.js';
import { newSolverSpace, newton, type SolverOutcome, type SolverPoint, type SolverSpace } from './solve.js';
import { type CircuitState, newCircuitState } from './state.js';
import { highSidePressure } from './system.js';

/** First guesses tried in turn. */
const GUESSES: readonly GuessVariant[] = [
  { lift: 1, flow: 1, superheat: 8 },
  { lift: 1.5, flow: 1, superheat: 4 },
  { lift: 1, flow: 0.5, superheat: 25 },
  { lift: 2.5, flow: 1, superheat: 12 },
  { lift: 0.6, flow: 0.7, superheat: 0 },
  { lift: 1.6, flow: 0.3, superheat: 30 },
];
const CONTINUATION_STEPS = [0.15, 0.3, 0.45, 0.6, 0.7, 0.8, 0.9, 0.95, 1] as const;
/** The head found and the switch's setting agree within this, Pa. */
const SWITCH_TOLERANCE = 200;

// One thread runs one solve at a time, and no state outlives it: the work space is shared.
const state: CircuitState = newCircuitState();
const space: SolverSpace = newSolverSpace();

/**
 * The steady state of a platform under given conditions with any faults, and everything that can be read on it.
 *
 * warmStart   `point` of a neighbouring result; makes the solve several times cheaper, not different
 * returns     converged: all equations closed to 1e-9 of their scale. at-bound: closed, with head or suction held at the end of the model's range.
 *             no-steady-state: a safety device ends the run; readings are those at its threshold. not-converged: closest state found.
 *             Readings are finite in every case.
 * throws      OutOfRange for conditions outside the model's range (see checkConditions)
 *
 * Deterministic. Not modelled: icing in time, oil solution, clutch transients within a cycle, mixtures of refrigerants, heat-pump modes.
 */
export function solveSystem(
  hardware: PlatformHardware,
  conditions: Conditions,
  faults: readonly Fault[] = [],
  warmStart: SolverPoint | null = null,
): SystemResult {
  const effects = effectsOf(faults, hardware);
  const model = prepareModel(hardware, conditions, effects);
  if (effects.inhibited) return compressorOff(model);
  let solved = solveModel(model, warmStart, () => continuation(hardware, conditions, faults));
  let m = model;
  // A switch behind the condenser sees less than the compressor: lower the limit until the pressure THERE stands at its setting.
  const place = hardware.highSideTransducer;
  if (place !== 'compressor-discharge') {
    const setting = hardware.control.highCutOut - effects.transducerBias;
    for (let i = 0; i < 8; i++) {
      const above = highSidePressure(state, place, m.airPressure) - setting;
      const held = m !== model;
      if (held ? Math.abs(above) <= SWITCH_TOLERANCE : above <= 0) break;
      const limit = Math.min(state.pDischarge - above, model.headLimit);
      if (limit >= model.headLimit && held) break;
      m = { ...m, headLimit: limit, headLimitReason: 'high-pressure-cut-out' };
      space.x[2] = Math.max(space.x[2]!, 0.02);
      solved = solveModel(m, { x: Float64Array.from(space.x), jacobian: new Float64Array(9) }, () =>
        continuation(hardware, conditions, faults, m),
      );
    }
  }
  return resultOf(m, solved);
}

/** The same platform without faults: what a sound system shows here today. */
export function healthyReadings(hardware: PlatformHardware, conditions: Conditions, warmStart: SolverPoint | null = null): SystemReadings {
  return solveSystem(hardware, conditions, [], warmStart).readings;
}

interface Solved extends SolverOutcome {
  readonly total: number;
}

/** From the warm start, else from the guesses, else along a continuation; the best point found stays in `space` and `state`. */
function solveModel(m: Model, warmStart: SolverPoint | null, onward: () => readonly Model[]): Solved {
  let total = 0;
  if (warmStart) {
    space.x.set(warmStart.x);
    space.jacobian.set(warmStart.jacobian);
    const known = warmStart.jacobian.some((value) => value !== 0);
    const outcome = newton(m, state, space, known);
    total += outcome.evaluations;
    if (outcome.converged) return { ...outcome, total };
  }
  let best: SolverOutcome | null = null;
  const bestX = new Float64Array(3);
  for (const variant of GUESSES) {
    firstGuess(m, variant, space.x);
    const outcome = newton(m, state, space, false);
    total += outcome.evaluations;
    if (outcome.converged) return { ...outcome, total };
    if (!best || outcome.residual < best.residual) {
      best = outcome;
      bestX.set(space.x);
    }
  }
  // From the sound system towards the faulty one, each step from the last.
  let converged = false;
  for (const step of onward()) {
    if (!converged) firstGuess(step, GUESSES[0]!, space.x);
    const outcome = newton(step, state, space, false);
    total += outcome.evaluations;
    converged = outcome.converged;
  }
  const last = newton(m, state, space, false);
  total += last.evaluations;
  if (last.converged || last.residual < best!.residual) return { ...last, total };
  space.x.set(bestX);
  const again = newton(m, state, space, false, 1);
  return { ...again, total: total + again.evaluations };
}

/** Models between the sound system and the faulty one, at growing severity. */
function continuation(hardware: PlatformHardware, conditions: Conditions, faults: readonly Fault[], limited: Model | null = null): Model[] {
  return [0, ...CONTINUATION_STEPS].map((share) => {
    const effects: FaultEffects =
      share === 0
        ? NO_EFFECTS
        : effectsOf(
            faults.map((fault) => ({ ...fault, severity: fault.severity * share })),
            hardware,
          );
    const model = prepareModel(hardware, conditions, effects);
    return limited ? { ...model, headLimit: limited.headLimit, headLimitReason: limited.headLimitReason } : model;
  });
}

function verdictOf(m: Model, s: CircuitState, converged: boolean): { verdict: Verdict; reason: VerdictReason | null } {
  const { control, compressor } = m.hardware;
  const off = (reason: VerdictReason): { verdict: Verdict; reason: VerdictReason } => ({ verdict: 'no-steady-state', reason });
  if (s.v > 0 && m.headLimitReason === 'relief') return off('head-above-relief');
  if (s.v > 0 && m.headLimitReason === 'high-pressure-cut-out' && s.headShare < LEAST_HEAD_SHARE) return off('head-above-cut-out');
  if (compressor.kind === 'fixed-clutch' && s.u <= m.limits.minimumOn) return off('suction-below-clutch-cut-out');
  if (s.pSuction < control.lowCutOut) return off('suction-below-low-cut-out');
  if (!converged) return { verdict: 'not-converged', reason: null };
  if (s.v > 0 && m.headLimitReason === 'table-end') return { verdict: 'at-bound', reason: 'head-above-model-range' };
  if (s.pSuction <= LOWEST_PRESSURE * 1.01) return { verdict: 'at-bound', reason: 'suction-below-model-range' };
  return { verdict: 'converged', reason: null };
}

function resultOf(m: Model, solved: Solved): SystemResult {
  const point = { x: Float64Array.from(space.x), jacobian: Float64Array.from(space.jacobian) };
  const readings = readingsOf(m, state);
  return {
    ...verdictOf(m, state, solved.converged),
    regimes: regimesOf(m, state, readings),
    readings,
    cycle: cycleOf(m, state),
    closure: closureOf(m, state),
    evaluations: solved.total,
    residual: solved.residual,
    point,
  };
}

/**
 * Charge that the circuit holds outside its vessel with the vessel at a partial level, kg: what sizing starts from. Null when the sound system
 * does not converge.
 */
export function chargeOutsideVessel(
  hardware: PlatformHardware,
  conditions: Conditions,
): { mass: number; rhoL: number; rhoV: number } | null {
  const m = prepareModel(hardware, conditions, NO_EFFECTS, true);
  const solved = solveModel(m, null, () => []);
  if (!solved.converged) return null;
  return { mass: state.massElsewhere, rhoL: state.levelMassLiquid, rhoV: state.levelMassVapour };
}
