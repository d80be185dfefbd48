import type { CanonicalReading } from '../canonical.js';
import type { HypothesisCode } from '../codes.js';
import type { EngineInput } from '../evidence.js';
import { logDensity1 } from '../gaussian.js';
import { dutyFromTraces } from '../measure.js';
import type { HypothesisNode } from '../node.js';
import { isLowSide } from '../places.js';
import type { Channel } from './channel.js';

const mean = (xs: readonly CanonicalReading[]) => xs.reduce((sum, r) => sum + r.value, 0) / xs.length;

/** Instruments that speak about one thing each: identifier, oil scale, clock, vacuum gauge. */
export function sundryChannels(input: EngineInput, readings: readonly CanonicalReading[]): Channel[] {
  const of = (meaning: string) => readings.filter((r) => r.meaning === meaning);
  const channels: Channel[] = [];
  const add = (
    observation: string,
    label: string,
    from: readonly CanonicalReading[],
    healthy: number,
    tolerance: number,
    unit: string,
    logLikelihood: (x: number, node: HypothesisNode) => number,
  ) => {
    if (from.length === 0) return;
    const x = mean(from);
    channels.push({
      observation,
      label,
      readings: from.map((r) => r.id),
      seen: x,
      expectedHealthy: healthy,
      tolerance,
      unit,
      logLikelihood: (node) => logLikelihood(x, node),
    });
  };

  // New R-1234yf may hold 1.5 % of gas that does not condense (SAE J2844); the identifier itself errs by about half a percent.
  add('air-share', 'Air share by the identifier', of('air-share'), 0.005, 0.008, '1', (x, node) =>
    node.code === 'air-in-system' ? logDensity1(x - 0.05 - 0.12 * node.severity, 0.06, 3) : logDensity1(x - 0.005, 0.008, 4),
  );
  // Refrigerant below 98 % purity must not be recycled (SAE J2099).
  add('refrigerant-purity', 'Purity by the identifier', of('refrigerant-purity'), 0.995, 0.006, '1', (x, node) =>
    node.code === 'wrong-refrigerant'
      ? logDensity1(x - 0.75, 0.2, 3)
      : node.code === 'air-in-system'
        ? logDensity1(x - 0.95, 0.05, 4)
        : logDensity1(x - 0.995, 0.007, 6),
  );
  // Recovery brings 5 to 25 g of oil along (common practice).
  add('oil-recovered', 'Oil that came out with the refrigerant', of('oil-recovered'), 0.015, 0.012, 'kg', (x, node) =>
    node.code === 'excess-oil'
      ? logDensity1(x - 0.05, 0.025, 1)
      : node.code === 'low-oil'
        ? logDensity1(x - 0.004, 0.006, 2)
        : logDensity1(x - 0.015, 0.013, 2),
  );
  // Sound compressors take more than two minutes to equalise (US Army TM 9-2320-387-24-2, para 14-6).
  add('equalisation-time', 'Time to equalise after stop', of('equalisation-time'), 240, 110, 's', (x, node) => {
    const lx = Math.log(Math.max(x, 5));
    const centre =
      node.code === 'compressor-leakage'
        ? Math.log(70)
        : node.code === 'condenser-passages' || node.code === 'filter-cartridge'
          ? Math.log(300)
          : Math.log(220);
    return logDensity1(lx - centre, 0.45, 20);
  });
  // Hold after evacuation: a rise that stops is water, a rise that goes on is a leak; one number cannot tell them apart.
  add('vacuum-rise', 'Pressure rise during the vacuum hold', of('vacuum-rise'), 150, 250, 'Pa', (x, node) => {
    const lx = Math.log(Math.max(x, 10));
    if (node.code === 'undercharge' || node.cascade === 'undercharge') return logDensity1(lx - Math.log(1500), 1.6, 20);
    if (node.code === 'moisture' || node.cascade === 'moisture') return logDensity1(lx - Math.log(1500), 0.8, 20);
    return logDensity1(lx - Math.log(120), 0.9, 20);
  });
  channels.push(...traceChannels(input));
  return channels;
}

/** Patterns in time of the low side: icing (cold, then starved, then well again) and fast cycling. */
function traceChannels(input: EngineInput): Channel[] {
  const channels: Channel[] = [];
  for (const trace of [...input.traces].sort((a, b) => (a.place < b.place ? -1 : 1))) {
    if (!isLowSide(trace.place)) continue;
    const samples = [...trace.samples].sort((a, b) => a.second - b.second);
    const first = samples[0]!;
    const last = samples.at(-1)!;
    const span = last.second - first.second;
    if (span < 300) continue;
    const settle = samples.filter((s) => s.second - first.second < span * 0.25);
    const late = samples.filter((s) => s.second - first.second >= span * 0.25);
    const typical = settle.map((s) => s.pressurePa).sort((a, b) => a - b)[Math.floor(settle.length / 2)]!;
    const lowest = Math.min(...late.map((s) => s.pressurePa));
    const fall = (typical - lowest) / 1e5;
    const swings = dutyFromTraces(input) !== null;
    if (swings && input.platform.compressor === 'fixed-clutch' && span < 900) continue;
    channels.push({
      observation: 'low-pressure-trace',
      label: 'Fall of the low side after the first minutes',
      readings: [],
      seen: fall * 1e5,
      expectedHealthy: 0.15e5,
      tolerance: 0.2e5,
      unit: 'Pa',
      logLikelihood: (node) => {
        const icing: readonly HypothesisCode[] = ['moisture', 'evaporator-airflow', 'displacement-stuck-high', 'temperature-sensor-bias'];
        if (node.code === 'moisture') return logDensity1(fall - 1.6, 0.7, 10);
        if (icing.includes(node.code)) return logDensity1(fall - 0.5, 0.5, 10);
        return logDensity1(fall - 0.15, 0.25, 15);
      },
    });
  }
  return channels;
}
