import type { Barometer } from '../barometer.js';
import { SEA_LEVEL_PA } from '../barometer.js';
import type { EngineInput } from '../evidence.js';
import { logDensity1 } from '../gaussian.js';
import type { Measured } from '../measure.js';
import type { HypothesisNode } from '../node.js';
import { saturationPressure, saturationSlope } from '../saturation.js';
import type { Channel } from './channel.js';

/** A car stands in one temperature after about eight hours; from six the error is within the tolerance given (common practice). */
export const SOAK_S = 6 * 3600;

export interface Soak {
  readonly temperatureK: number;
  readonly sigmaK: number;
  readonly soaked: boolean;
}

/** Temperature of the parts at rest. Only a soak makes it one temperature; without it there is no verdict on air. */
export function soakOf(input: EngineInput): Soak | null {
  const c = input.conditions;
  const soaked = c.soakedS !== undefined && c.soakedS >= SOAK_S;
  if (c.soakTemperatureK !== undefined)
    return { temperatureK: c.soakTemperatureK, sigmaK: soaked ? 0.7 : 1.5, soaked: soaked || c.soakedS === undefined };
  const air = c.outsideAirK ?? c.condenserAirK;
  if (air === undefined) return null;
  return { temperatureK: air, sigmaK: soaked ? 1.8 : 6, soaked };
}

const mean = (xs: readonly number[]) => xs.reduce((a, b) => a + b, 0) / xs.length;

/** Pressures at rest: instruments against each other, and against saturation. */
export function restChannels(input: EngineInput, measured: Measured, barometer: Barometer): Channel[] {
  const channels: Channel[] = [];
  const { rest } = measured;
  const ids = (filter: (device: string, side: string) => boolean) => rest.readings.filter((p) => filter(p.device, p.side)).map((p) => p.id);
  const bar = (pa: number) => pa / 1e5;

  if (rest.differencePa !== null) {
    const d = bar(rest.differencePa);
    const shift = bar(barometer.pressurePa);
    const sealed = bar(SEA_LEVEL_PA - barometer.pressurePa);
    channels.push({
      observation: 'rest-difference',
      label: 'Transducer minus gauge at rest',
      readings: ids((device, side) => device === 'transducer' || side === 'high'),
      seen: rest.differencePa,
      expectedHealthy: 0,
      tolerance: 35_000,
      unit: 'Pa',
      logLikelihood: (node) => {
        switch (node.code) {
          case 'pressure-sensor-bias':
            return logDensity1(d, 2.5, 40);
          case 'gauge-bias':
            return logDensity1(d, 1.1, 40);
          case 'transducer-bias':
            return Math.log(
              0.35 * (Math.exp(logDensity1(d - shift, 0.3, 40)) + Math.exp(logDensity1(d + shift, 0.3, 40))) +
                0.3 * Math.exp(logDensity1(d + sealed, 0.25, 40)),
            );
          case 'port-not-opened':
            return logDensity1(d, 4, 40);
          default:
            return logDensity1(d, 0.33, 2000);
        }
      },
    });
  }

  if (rest.sidesPa !== null) {
    const d = bar(rest.sidesPa);
    channels.push({
      observation: 'rest-sides',
      label: 'Low side minus high side at rest',
      readings: ids((device) => device === 'gauge'),
      seen: rest.sidesPa,
      expectedHealthy: 0,
      tolerance: 20_000,
      unit: 'Pa',
      logLikelihood: (node) => {
        switch (node.code) {
          case 'port-not-opened':
            return logDensity1(d, 4, 40);
          case 'gauge-bias':
            return logDensity1(d, 0.8, 40);
          case 'sample-unsettled':
            return logDensity1(d, 2, 40);
          default:
            return logDensity1(d, 0.25, 60);
        }
      },
    });
  }

  const soak = soakOf(input);
  const gauges = rest.readings.filter((p) => p.device === 'gauge');
  const used = gauges.length > 0 ? gauges : rest.readings;
  if (soak && used.length > 0) {
    const name = input.platform.refrigerant;
    const saturation = saturationPressure(name, soak.temperatureK);
    const pressure = mean(used.map((p) => p.pa));
    const agree = measured.rest.differencePa !== null && Math.abs(measured.rest.differencePa) < 50_000;
    const instrument = agree ? 15_000 : 25_000;
    const sigma = bar(Math.hypot(saturationSlope(name, soak.temperatureK) * soak.sigmaK, instrument, barometer.sigmaPa));
    const excess = bar(pressure - saturation);
    const deepest = -bar(saturation) + 1;
    channels.push({
      observation: 'static-excess',
      label: soak.soaked ? 'Pressure at rest above saturation at soak temperature' : 'Pressure at rest against saturation (not soaked)',
      readings: used.map((p) => p.id),
      seen: pressure - saturation,
      expectedHealthy: 0,
      tolerance: sigma * 1e5,
      unit: 'Pa',
      logLikelihood: (node) => staticLikelihood(node, excess, sigma, soak.soaked, deepest, gauges.length === 0),
    });
  }
  return channels;
}

/** Uniform between two limits, blurred by sigma; log density. */
function logBlock(x: number, low: number, high: number, sigma: number): number {
  const edge = (t: number) => 1 / (1 + Math.exp(-1.702 * t));
  const inside = edge((x - low) / sigma) - edge((x - high) / sigma);
  return Math.log(Math.max(inside / Math.max(high - low, sigma), 1e-5));
}

function staticLikelihood(
  node: HypothesisNode,
  excess: number,
  sigma: number,
  soaked: boolean,
  deepest: number,
  transducerOnly: boolean,
): number {
  const plain = logDensity1(excess, sigma, 400);
  switch (node.code) {
    case 'air-in-system':
      // Without a soak warm parts can hold the same excess: no verdict on air.
      if (!soaked) return plain;
      return logDensity1(
        excess - (node.severity < 0.4 ? 0.7 : node.severity < 0.7 ? 1.7 : 3),
        Math.hypot(sigma, node.severity < 0.4 ? 0.3 : 0.7),
        60,
      );
    case 'wrong-refrigerant':
      return soaked ? logDensity1(excess, Math.hypot(sigma, 1.5), 40) : plain;
    case 'undercharge':
      if (node.severity < 0.9) return plain;
      return logBlock(excess, deepest, 0, Math.max(sigma, 0.2));
    case 'gauge-bias':
      return logDensity1(excess, Math.hypot(sigma, transducerOnly ? 0 : 0.9), 60);
    case 'pressure-sensor-bias':
      return logDensity1(excess, Math.hypot(sigma, transducerOnly ? 2.5 : 0), 60);
    case 'transducer-bias':
      return logDensity1(excess, Math.hypot(sigma, transducerOnly ? 0.9 : 0), 60);
    case 'port-not-opened':
      return transducerOnly ? plain : logBlock(excess, deepest - 0.5, 2, Math.max(sigma, 0.5));
    default:
      return plain;
  }
}
