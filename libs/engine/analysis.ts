import { alikeFaults } from './alike.js';
import { type Barometer, localBarometer } from './barometer.js';
import { circuitOf } from './calibration/circuit.js';
import { currentCalibration } from './calibration/current.js';
import { knownOf } from './calibration/platform.js';
import { type KnownVehicle, knownVehicle } from './calibration/vehicle.js';
import { canonical } from './canonical.js';
import { type Heard, heard } from './channels/channel.js';
import { findingChannels } from './channels/findings.js';
import { restChannels, soakOf } from './channels/rest.js';
import { samePlaceChannels } from './channels/same-place.js';
import { sundryChannels } from './channels/sundry.js';
import { type ThermalFeatures, thermalChannels, thermalFeatures } from './channels/thermal.js';
import { weightChannels } from './channels/weight.js';
import type { HypothesisCode } from './codes.js';
import { astray, logApart } from './coherence.js';
import { confidenceOf } from './confidence.js';
import { cascadeEdges, cascadeNodes } from './effects/cascades.js';
import { mistakeNodes, sensorBiasNode } from './effects/mistakes.js';
import type { EngineInput } from './evidence.js';
import type { Expectation } from './expectation.js';
import { groupsOf, type NodeGroup, twinsOf } from './groups.js';
import { type Measured, measure } from './measure.js';
import type { HypothesisNode } from './node.js';
import { type Seating, seatings } from './places.js';
import { circuitLikelihoods, normalise, type Posterior } from './posterior.js';
import { cascadeShare, priorOf } from './priors.js';
import { Room } from './room.js';
import { type Weather, weatherOf } from './weather.js';

/** Everything the answer is written from. */
export interface Analysis {
  readonly input: EngineInput;
  readonly barometer: Barometer;
  readonly evidence: ReturnType<typeof canonical>;
  readonly weather: Weather;
  readonly healthy: Expectation;
  /** Covariance of readings of sound systems of the kind where more is known of this one; else null, and `healthy` and `measured` have it. */
  readonly ofItsKind: Float64Array | null;
  readonly nodes: readonly HypothesisNode[];
  /** How many of them stand alone; pairs of cause and consequence follow, each with the circuit of a single. */
  readonly singles: number;
  readonly groups: readonly NodeGroup[];
  /** First node with the same circuit, for each node. */
  readonly twins: Int32Array;
  readonly prior: ReadonlyMap<HypothesisCode, number>;
  readonly posterior: Posterior;
  /** Probability that the evidence does not belong together; that share of the posterior is the prior. */
  readonly astray: number;
  /** Prior of every node. */
  readonly weights: Float64Array;
  /** The seating of port and transducer that fits best; its measurements. */
  readonly seating: Seating;
  readonly seatingProbability: number;
  readonly measured: Measured;
  readonly channels: readonly Heard[];
  /** Log prior and channels of every node, and the circuit's log likelihood under the chosen seating. */
  readonly common: Float64Array;
  readonly circuit: Float64Array;
  readonly thermal: ThermalFeatures | null;
  /** What is known of this very vehicle from earlier visits. */
  readonly vehicle: KnownVehicle | null;
}

function logPriors(
  count: number,
  groups: readonly NodeGroup[],
  nodes: readonly HypothesisNode[],
  prior: ReadonlyMap<HypothesisCode, number>,
  input: EngineInput,
): Float64Array {
  const out = new Float64Array(count);
  const taken = new Map<HypothesisCode, number>();
  for (const { code, cascade } of groups) if (cascade !== null) taken.set(code, (taken.get(code) ?? 0) + cascadeShare(cascade, input));
  for (const { code, cascade, members } of groups) {
    // Severities from simulation and beyond it share one prior.
    let shares = 0;
    for (const i of members) shares += nodes[i]!.share;
    const part = cascade === null ? 1 - (taken.get(code) ?? 0) : cascadeShare(cascade, input);
    const whole = (prior.get(code)! * part) / shares;
    for (const i of members) out[i] = Math.log(whole * nodes[i]!.share);
  }
  return out;
}

function add(to: Float64Array, logs: Float64Array): void {
  for (let i = 0; i < to.length; i++) to[i]! += logs[i]!;
}

/** Log of the sum over the hypotheses of prior, channels and circuit. */
function logEvidence(common: Float64Array, circuit: Float64Array): number {
  let best = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < common.length; i++) best = Math.max(best, common[i]! + circuit[i]!);
  let sum = 0;
  for (let i = 0; i < common.length; i++) sum += Math.exp(common[i]! + circuit[i]! - best);
  return best + Math.log(sum);
}

/** Log weights of the hypotheses: `common` and the mixture of the circuit over the seatings the platform leaves open. */
function overSeatings(common: Float64Array, circuits: readonly Float64Array[], seatLogs: readonly number[]): Float64Array {
  const out = new Float64Array(common.length);
  for (let i = 0; i < out.length; i++) {
    let best = Number.NEGATIVE_INFINITY;
    for (let r = 0; r < circuits.length; r++) best = Math.max(best, seatLogs[r]! + circuits[r]![i]!);
    let sum = circuits.length === 1 ? 1 : 0;
    if (circuits.length > 1) for (let r = 0; r < circuits.length; r++) sum += Math.exp(seatLogs[r]! + circuits[r]![i]! - best);
    out[i] = common[i]! + best + Math.log(sum);
  }
  return out;
}

/**
 * Evidence to posterior; expectations of every dimension only on demand. Pure; the same evidence in any order gives the same numbers. Healthy and nodes live in
 * `room`: an analysis ends where a room that is lent again is cleared.
 */
export function analyse(input: EngineInput, allDims = false, room = new Room()): Analysis {
  const barometer = localBarometer(input.conditions, input.elevationM);
  const evidence = canonical(input, barometer.pressurePa);
  const weather = weatherOf({ ...input, readings: evidence.readings }, barometer);
  const prior = priorOf(input);
  const thermal = thermalFeatures(input, weather);

  const seen = seatings(input.platform).map((seating) => ({ seating, measured: measure(input, evidence.readings, seating, barometer) }));
  const read = [...new Set(seen.flatMap((o) => o.measured.present))].sort((a, b) => a - b);
  const vehicle = knownVehicle(input, seen[0]!.measured, weather);
  const options = vehicle === null ? seen : seen.map(({ seating, measured }) => ({ seating, measured: vehicle.settle(measured) }));
  const { healthy, ofItsKind, faults } = circuitOf(
    input.platform,
    weather,
    currentCalibration(),
    allDims ? undefined : read,
    vehicle ?? knownOf(input),
    room,
  );
  let nodes: HypothesisNode[] = [];
  let alone = 0;
  let groups: NodeGroup[] = [];
  const runs = options.map(({ seating, measured }) => {
    const singles = [
      ...faults.map((n) => (n.code === 'pressure-sensor-bias' ? sensorBiasNode(healthy, measured, room) : n)),
      ...mistakeNodes(healthy, measured, room),
    ];
    alone = singles.length;
    nodes = singles.concat(cascadeNodes(cascadeEdges(input.platform), singles));
    // Every seating has the same hypotheses in the same order.
    if (groups.length === 0) groups = groupsOf(nodes);
    const twins = twinsOf(nodes);
    const circuit = circuitLikelihoods(nodes, twins, healthy, measured);
    const own = samePlaceChannels(measured).map((channel) => heard(channel, nodes));
    for (const { logs } of own) add(circuit, logs);
    return { seating, measured, circuit, nodes, twins, own };
  });

  const channels: Heard[] = [
    ...restChannels(input, runs[0]!.measured, barometer),
    ...weightChannels(input, evidence.readings),
    ...thermalChannels(thermal, weather),
    ...sundryChannels(input, evidence.readings),
    ...findingChannels(input),
  ].map((channel) => heard(channel, nodes));
  const common = logPriors(nodes.length, groups, nodes, prior, input);
  const weights = common.map(Math.exp);
  for (const { logs } of channels) add(common, logs);

  const circuits = runs.map(({ circuit }) => circuit);
  const seatLogs = runs.map(({ seating }) => Math.log(seating.weight));
  const evidenceOf = circuits.map((circuit, r) => seatLogs[r]! + logEvidence(common, circuit));
  const logWeights = overSeatings(common, circuits, seatLogs);
  const top = Math.max(...evidenceOf);
  const at = evidenceOf.indexOf(top);
  const chosen = runs[at]!;
  const asRead = seen[at]!.measured;
  const total = evidenceOf.reduce((sum, e) => sum + Math.exp(e - top), 0);
  const seated = runs.map(({ seating, measured, own }) => ({ weight: seating.weight, measured, own }));
  const apart = logApart(weights, chosen.nodes, chosen.twins, healthy, channels, seated);
  const known = ofItsKind === null ? null : vehicle ? 'vehicle' : 'platform';
  const confidence = confidenceOf(chosen.measured.present, channels, soakOf(input)?.soaked === true, known);
  const lost = astray(apart, top + Math.log(total), chosen.measured.present.length);
  return {
    input,
    barometer,
    evidence,
    weather,
    healthy,
    ofItsKind: ofItsKind?.map((x, k) => x + asRead.noise[k]!) ?? null,
    nodes: chosen.nodes,
    singles: alone,
    groups,
    twins: chosen.twins,
    prior,
    posterior: normalise(groups, logWeights, weights, lost, confidence),
    astray: lost,
    weights,
    seating: chosen.seating,
    seatingProbability: 1 / total,
    measured: chosen.measured,
    channels: channels.concat(chosen.own),
    common,
    circuit: chosen.circuit,
    thermal,
    vehicle,
  };
}

/** Classes of faults that what was read cannot tell apart: by the running circuit, less what weight, soak, looks and times tell (see `alike.ts`). */
export function alikeOf({ input, measured, channels }: Analysis): HypothesisCode[][] {
  const told = new Set(channels.map((c) => c.observation));
  // At rest without a soak nothing is said about what the pressures stand for.
  if (!soakOf(input)?.soaked) told.delete('static-excess');
  return alikeFaults(input.platform, measured.present, told);
}
