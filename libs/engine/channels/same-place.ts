import { logDensity1 } from '../gaussian.js';
import type { Measured } from '../measure.js';
import type { Channel } from './channel.js';

/** Two instruments at one place while running, less their difference at rest: what remains is no pressure drop. */
export function samePlaceChannels(measured: Measured): Channel[] {
  const gap = measured.samePlacePa;
  if (!gap) return [];
  const d = gap.value / 1e5;
  const tested = measured.rest.differencePa !== null;
  return [
    {
      observation: 'same-place-difference',
      label: 'Transducer minus gauge at the same place, running',
      readings: [...gap.ids].sort(),
      seen: gap.value,
      expectedHealthy: 0,
      tolerance: 40_000,
      unit: 'Pa',
      logLikelihood: (node) => {
        switch (node.code) {
          case 'manifold-valves-open':
            return logDensity1(d - 8, 5, 60);
          case 'port-not-opened':
            return logDensity1(d, 6, 60);
          case 'pressure-sensor-bias':
            return logDensity1(d, tested ? 0.4 : 2.5, 100);
          case 'gauge-bias':
            return logDensity1(d, tested ? 0.4 : 1.1, 100);
          case 'transducer-bias':
            return logDensity1(d, tested ? 0.4 : 0.9, 100);
          default:
            return logDensity1(d, 0.4, 200);
        }
      },
    },
  ];
}
