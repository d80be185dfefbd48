import type { FaultCode } from '../codes.js';

/** Severity bands with their prior shares. */
const THREE: readonly (readonly [number, number, number])[] = [
  [0.15, 0.4, 0.34],
  [0.4, 0.7, 0.36],
  [0.7, 1, 0.3],
];
export function severitiesOf(code: FaultCode): readonly (readonly [number, number, number])[] {
  if (code === 'healthy') return [[0, 0, 1]];
  if (code === 'undercharge') {
    return [
      [0.05, 0.16, 0.14],
      [0.16, 0.28, 0.18],
      [0.28, 0.4, 0.18],
      [0.4, 0.55, 0.18],
      [0.55, 0.7, 0.16],
    ];
  }
  if (code === 'overcharge') {
    return [
      [0.04, 0.15, 0.35],
      [0.15, 0.3, 0.4],
      [0.3, 0.5, 0.25],
    ];
  }
  return THREE;
}

/** Additive recurrence of the generalised golden ratio: evenly spread points in any number of dimensions (Roberts 2018). */
export function quasi(dimensions: number): (index: number) => Float64Array {
  let g = 1.5;
  for (let i = 0; i < 60; i++) g = (1 + g) ** (1 / (dimensions + 1));
  const alpha = Float64Array.from({ length: dimensions }, (_, k) => (1 / g) ** (k + 1) % 1);
  return (index) => Float64Array.from(alpha, (a) => (0.5 + a * (index + 1)) % 1);
}

/** Spread the model cannot know: manufacturing, lines, airflow at the car, K and shares, one standard deviation. */
export const FLOOR = [0.6, 0.6, 0.5, 0.5, 0.5, 0.6, 1.5, 0.8, 0.9, 4, 1.3, 1.3, 0.08, 0.08, 0.03];
