import type { EngineTrace } from './evidence.js';
import { isLowSide, placeWords } from './places.js';
import type { TracePicture } from './result.js';

/** A swing smaller than this is ripple, Pa: 0.4 bar on the low side, 1 bar on the high side (common practice). */
const SWING_PA = { low: 40_000, high: 100_000 } as const;
/** Drift of the last quarter under which a pressure has settled, Pa (common practice). */
const DRIFT_PA = { low: 10_000, high: 40_000 } as const;
const MIN_SECONDS = 60;
/** One bump may be a door or a pedal; two whole cycles are a rhythm. */
const MIN_CYCLES = 2;

interface Sample {
  readonly second: number;
  readonly pressurePa: number;
}

/**
 * Turning points of a trace: each lies at least `swingPa` from the one before it, so noise below that makes none. The last sample is not a
 * turning point, for nobody knows whether it turned.
 */
function turningPoints(samples: readonly Sample[], swingPa: number): { readonly at: Sample; readonly kind: 'crest' | 'trough' }[] {
  const points: { at: Sample; kind: 'crest' | 'trough' }[] = [];
  let highest = samples[0]!;
  let lowest = samples[0]!;
  let going: 'up' | 'down' | null = null;
  for (const sample of samples) {
    if (sample.pressurePa > highest.pressurePa) highest = sample;
    if (sample.pressurePa < lowest.pressurePa) lowest = sample;
    if (going !== 'down' && highest.pressurePa - sample.pressurePa >= swingPa) {
      points.push({ at: highest, kind: 'crest' });
      going = 'down';
      lowest = sample;
    } else if (going !== 'up' && sample.pressurePa - lowest.pressurePa >= swingPa) {
      points.push({ at: lowest, kind: 'trough' });
      going = 'up';
      highest = sample;
    }
  }
  return points;
}

/** In order of time, values of one instant drawn together. */
function inOrder(samples: readonly Sample[]): Sample[] {
  const instants = new Map<number, number[]>();
  for (const { second, pressurePa } of samples) instants.set(second, [...(instants.get(second) ?? []), pressurePa]);
  return [...instants].sort(([a], [b]) => a - b).map(([second, values]) => ({ second, pressurePa: mean(values) }));
}

const mean = (xs: readonly number[]) => xs.reduce((sum, x) => sum + x, 0) / xs.length;
const median = (xs: readonly number[]) => {
  const sorted = [...xs].sort((a, b) => a - b);
  return sorted[sorted.length >> 1]!;
};

/** Mean over time between two instants, by trapezia. */
function timeMean(samples: readonly Sample[], from: number, to: number): number {
  let sum = 0;
  for (let i = 1; i < samples.length; i++) {
    const [a, b] = [samples[i - 1]!, samples[i]!];
    if (a.second < from || b.second > to) continue;
    sum += ((a.pressurePa + b.pressurePa) / 2) * (b.second - a.second);
  }
  return sum / (to - from);
}

/**
 * Period, share of the time the compressor is on, and the two pressures between which it swings. While it is on, the low side falls and the
 * high side rises. Null under two whole cycles.
 */
function cyclingOf(samples: readonly Sample[], low: boolean): TracePicture['cycling'] {
  const points = turningPoints(samples, low ? SWING_PA.low : SWING_PA.high);
  const first = points.findIndex(({ kind }) => kind === 'trough');
  const troughs = points.filter(({ kind }) => kind === 'trough').map(({ at }) => at);
  if (first < 0 || troughs.length <= MIN_CYCLES) return null;
  const crests = points.slice(first).flatMap(({ at, kind }) => (kind === 'crest' ? [at] : []));
  const cycles = troughs.length - 1;
  const seconds = troughs.at(-1)!.second - troughs[0]!.second;
  let rising = 0;
  for (let i = 0; i < cycles; i++) rising += crests[i]!.second - troughs[i]!.second;
  const riseShare = rising / seconds;
  return {
    cycles,
    periodSeconds: seconds / cycles,
    duty: low ? 1 - riseShare : riseShare,
    lowPa: mean(troughs.map(({ pressurePa }) => pressurePa)),
    highPa: mean(crests.slice(0, cycles).map(({ pressurePa }) => pressurePa)),
    meanPa: timeMean(samples, troughs[0]!.second, troughs.at(-1)!.second),
  };
}

/** The middle of the last quarter, or null while it still drifts. */
function settledOf(samples: readonly Sample[], low: boolean): number | null {
  const end = samples.at(-1)!.second;
  const quarter = (end - samples[0]!.second) / 4;
  const late = samples.filter(({ second }) => second >= end - quarter).map(({ pressurePa }) => pressurePa);
  const half = late.length >> 1;
  if (half === 0) return null;
  const drift = Math.abs(mean(late.slice(half)) - mean(late.slice(0, half)));
  return drift <= (low ? DRIFT_PA.low : DRIFT_PA.high) ? median(late) : null;
}

/** From a tenth to nine tenths of the fall from the first value to where the low side stays or first turns. Null for smaller falls than a swing. */
function pullDownOf(samples: readonly Sample[], settledPa: number | null, cycling: TracePicture['cycling']): TracePicture['pullDown'] {
  const target = cycling?.lowPa ?? settledPa;
  const start = median(samples.slice(0, 3).map(({ pressurePa }) => pressurePa));
  if (target === null || start - target < SWING_PA.low) return null;
  const fallPa = start - target;
  const passed = samples.findIndex(({ pressurePa }) => pressurePa <= start - 0.9 * fallPa);
  if (passed < 1) return null;
  let begun = passed;
  while (begun > 0 && samples[begun]!.pressurePa < start - 0.1 * fallPa) begun--;
  const seconds = samples[passed]!.second - samples[begun]!.second;
  return { seconds, fallPa, paPerMinute: (60 * (samples[begun]!.pressurePa - samples[passed]!.pressurePa)) / seconds };
}

const bars = (pa: number) => `${(pa / 1e5).toFixed(1)} bar (${(pa / 6894.757).toFixed(0)} psi)`;

/**
 * What a pressure did in time: how fast it was drawn down, where it settled, and how it cycles. Pressures keep the reference of the trace.
 * Null under a minute or under eight samples.
 */
export function tracePicture(trace: EngineTrace, index: number): TracePicture | null {
  const samples = inOrder(trace.samples);
  const seconds = samples.length < 8 ? 0 : samples.at(-1)!.second - samples[0]!.second;
  if (seconds < MIN_SECONDS) return null;
  const low = isLowSide(trace.place);
  const cycling = cyclingOf(samples, low);
  const settledPa = cycling ? cycling.meanPa : settledOf(samples, low);
  const pullDown = low ? pullDownOf(samples, settledPa, cycling) : null;
  const parts = [
    pullDown ? `falls ${bars(pullDown.fallPa)}, the middle of it in ${pullDown.seconds.toFixed(0)} s` : null,
    cycling
      ? `cycles every ${cycling.periodSeconds.toFixed(0)} s between ${bars(cycling.lowPa)} and ${bars(cycling.highPa)}, compressor on ${(100 * cycling.duty).toFixed(0)} % of the time`
      : settledPa === null
        ? 'had not settled when the trace ended: read it for longer'
        : `settles at ${bars(settledPa)}`,
  ];
  const words = placeWords(trace.place);
  const message = `${words.charAt(0).toUpperCase()}${words.slice(1)}: ${parts.filter((part) => part !== null).join('; ')}.`;
  return { trace: index, place: trace.place, seconds, settledPa, pullDown, cycling, message };
}
