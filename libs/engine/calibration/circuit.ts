import { applies } from '../catalogue/entries.js';
import { CMD, DIMS } from '../dims.js';
import { type TabulatedSeverity, tabulatedNodes, tabulatedSeverities } from '../effects/nodes.js';
import type { EnginePlatform } from '../evidence.js';
import { type Expectation, tabulatedExpectation } from '../expectation.js';
import { onceAKind } from '../kind.js';
import { type HypothesisNode, hypothesisNode } from '../node.js';
import { Room } from '../room.js';
import type { Weather } from '../weather.js';
import { congruent, reshaping } from './matrix.js';
import {
  ALL_DIMS,
  bandsOf,
  type CalibratedGroup,
  type CalibratedNode,
  groupKey,
  mixture,
  predictInto,
  regimeShares,
  soundAt,
  triangleAt,
  weatherTerms,
} from './model.js';
import { soundSpread } from './platform.js';
import { STRUCTURE } from './structure.js';

/** What the running circuit shows on this system in this weather: sound, and under every fault. */
export interface Circuit {
  readonly healthy: Expectation;
  /** Covariance of sound systems of the kind in this weather where more is known of this one; else null. */
  readonly ofItsKind: Float64Array | null;
  readonly faults: readonly HypothesisNode[];
}

/** Everything by the tables, where the calibration does not hold a kind of system. */
const ofTheTables = onceAKind((platform) => tabulatedSeverities(platform, new Set()));

/** What a calibrated group holds of the faults of a kind of system, by severity and regime, and what the tables add to it. */
interface Held {
  readonly bands: readonly (readonly CalibratedNode[])[];
  readonly beyond: readonly TabulatedSeverity[];
}
const held = new WeakMap<CalibratedGroup, (platform: EnginePlatform) => Held>();
function heldOf(group: CalibratedGroup, platform: EnginePlatform): Held {
  let ofKind = held.get(group);
  if (!ofKind) {
    ofKind = onceAKind((kind) => {
      const bands = bandsOf(group)
        .slice(1)
        .filter(([first]) => applies(first!.code, kind));
      const simulated = new Set(['healthy', ...bands.map(([first]) => first!.code)]);
      return { bands, beyond: tabulatedSeverities(kind, simulated) };
    });
    held.set(group, ofKind);
  }
  return ofKind(platform);
}

/** What is known of a system beyond its kind: how its sound readings lie to those of its kind, and how far that is known. All dimensions. */
export interface KnownSound {
  readonly offset: ArrayLike<number>;
  /** Covariance of hardware and structure that is left, row-major. */
  readonly spread: Float64Array;
}

/**
 * Circuit of a case. Where the calibration holds this kind of system, the sound expectation and every simulated fault come from it, and
 * the faults the model has no physics for keep their tabulated change on top of it; else everything is tabulated. Covariances are filled for `dims`, and of
 * faults the means; other places of both hold nothing of use. What comes back lives in `room`.
 */
export function circuitOf(
  platform: EnginePlatform,
  weather: Weather,
  calibration: ReadonlyMap<string, CalibratedGroup>,
  dims: readonly number[] = ALL_DIMS,
  known: KnownSound | null = null,
  room = new Room(),
): Circuit {
  const group = calibration.get(groupKey(platform.layout, platform.compressor));
  if (!group) {
    const healthy = tabulatedExpectation(platform, weather);
    const faults = tabulatedNodes(ofTheTables(platform), platform.refrigerant, weather, healthy, dims, room);
    return { healthy, ofItsKind: null, faults };
  }
  const t = weatherTerms(weather, platform.refrigerant);
  const own = known === null ? null : ownSpread(group, known, dims);
  const circuitAt = (node: CalibratedNode, meanDims: readonly number[]): Expectation => {
    const lent = room.take();
    predictInto(node, t, dims, meanDims, lent.mean, lent.covariance);
    if (own) settle(node, own, known!, dims, meanDims, lent.mean, lent.covariance);
    return lent;
  };
  const soundRegimes = bandsOf(group)[0]!;
  const { bands, beyond } = heldOf(group, platform);
  const soundShares = regimeShares(soundRegimes, t);
  const sound = soundRegimes.map((node) => circuitAt(node, ALL_DIMS));
  const healthy =
    sound.length === 1 ? { mean: sound[0]!.mean, covariance: new Float64Array(sound[0]!.covariance) } : mixture(sound, soundShares, dims);
  const nodes: HypothesisNode[] = [];
  const add = (node: CalibratedNode, share: number, { mean, covariance }: Expectation) => {
    takeOut(covariance, healthy.covariance, dims);
    const { code, severity, capacityLost, lossSigma } = node;
    if (code === 'displacement-stuck-low') commandAtItsEnd(mean, covariance, healthy.covariance, dims);
    nodes.push(hypothesisNode(code, severity, capacityLost, share, mean, covariance, null, true, lossSigma));
  };
  if (sound.length === 1) nodes.push(hypothesisNode('healthy', 0, 0, 1, healthy.mean, null, null, true));
  else for (const [r, node] of soundRegimes.entries()) add(node, soundShares[r]!, sound[r]!);
  for (const regimes of bands) {
    const shares = regimeShares(regimes, t);
    for (let r = 0; r < regimes.length; r++) {
      const node = regimes[r]!;
      if (shares[r]! >= LEAST_REGIME) add(node, node.share * shares[r]!, circuitAt(node, dims));
    }
  }
  // Common to every hypothesis, so that the differences above stand; a known platform has it in its own spread.
  if (!own) for (const i of dims) for (const j of dims) healthy.covariance[i * DIMS + j]! += STRUCTURE[i * DIMS + j]!;
  const ofItsKind = own ? soundAt(group, t, dims).covariance : null;
  if (ofItsKind) for (const i of dims) for (const j of dims) ofItsKind[i * DIMS + j]! += STRUCTURE[i * DIMS + j]!;
  return { healthy, ofItsKind, faults: nodes.concat(tabulatedNodes(beyond, platform.refrigerant, weather, healthy, dims, room)) };
}

/** Takes the sound system's own spread out of a fault's; both symmetric. */
function takeOut(covariance: Float64Array, sound: Float64Array, dims: readonly number[]): void {
  for (let a = 0; a < dims.length; a++) {
    const i = dims[a]!;
    for (let b = 0; b <= a; b++) {
      const j = dims[b]!;
      const more = covariance[i * DIMS + j]! - sound[i * DIMS + j]!;
      covariance[i * DIMS + j] = more;
      covariance[j * DIMS + i] = more;
    }
  }
}

/**
 * The model's command is the stroke it comes to. A stroke that is stuck answers to nothing, and a control that does not reach what it holds asks for the
 * most: the command stands at its end, whatever the stroke. `covariance` is what goes beyond the sound system's.
 */
function commandAtItsEnd(mean: Float64Array, covariance: Float64Array, sound: Float64Array, dims: readonly number[]): void {
  mean[CMD] = 0.95;
  for (const i of dims) {
    covariance[i * DIMS + CMD] = -sound[i * DIMS + CMD]!;
    covariance[CMD * DIMS + i] = -sound[CMD * DIMS + i]!;
  }
  covariance[CMD * DIMS + CMD] = COMMAND_SIGMA ** 2 - sound[CMD * DIMS + CMD]!;
}

const COMMAND_SIGMA = 0.12;

/** A regime less likely than this in the case's weather is left out of a fault's severities. */
const LEAST_REGIME = 0.02;

/** Matrix that narrows the spread of a kind of system to what is left of it, over the dimensions asked for. */
function ownSpread(group: CalibratedGroup, known: KnownSound, dims: readonly number[]): Float64Array {
  const d = dims.length;
  const pick = (full: Float64Array) => {
    const out = new Float64Array(d * d);
    for (let a = 0; a < d; a++) for (let b = 0; b < d; b++) out[a * d + b] = full[dims[a]! * DIMS + dims[b]!]!;
    return out;
  };
  return reshaping(pick(soundSpread(group)), pick(known.spread), d);
}

/**
 * Share of a fault's own spread that stays however well the sound system is known: how large its effect is differs between systems, too. Set on the tempering
 * seeds by the log loss of known platforms, flat between 0.15 and 0.25.
 */
const EFFECT_SHARE = 0.2;

/**
 * Mean and covariance of a node on a known platform or vehicle: its offset added, and its hardware and structure narrowed as the sound system's are.
 * A fault is taken to move its own sound readings as it moves those of its kind.
 */
function settle(
  node: CalibratedNode,
  A: Float64Array,
  known: KnownSound,
  dims: readonly number[],
  meanDims: readonly number[],
  mean: Float64Array,
  covariance: Float64Array,
): void {
  const d = dims.length;
  const hardware = new Float64Array(d * d);
  for (let a = 0; a < d; a++) {
    for (let b = 0; b < d; b++) {
      hardware[a * d + b] = node.covariance[triangleAt(dims[a]!, dims[b]!)]! + STRUCTURE[dims[a]! * DIMS + dims[b]!]!;
    }
  }
  const narrowed = congruent(A, hardware, d);
  if (node.code !== 'healthy') for (let i = 0; i < d * d; i++) narrowed[i]! += EFFECT_SHARE * (hardware[i]! - narrowed[i]!);
  for (let a = 0; a < d; a++) {
    for (let b = 0; b < d; b++) {
      covariance[dims[a]! * DIMS + dims[b]!]! += narrowed[a * d + b]! - node.covariance[triangleAt(dims[a]!, dims[b]!)]!;
    }
  }
  for (const i of meanDims) mean[i]! += known.offset[i]!;
}
