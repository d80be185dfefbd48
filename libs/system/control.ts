import type { CompressorKind, ControlHardware } from './hardware.js';

/** What the control makes of the suction coordinate u. */
export interface SuctionControl {
  /** Mean suction at the compressor, Pa. */
  pressure: number;
  /** Stroke (variable) or speed share (electric). */
  stroke: number;
  /** Share of the time a cycling clutch is closed. */
  onFraction: number;
}

export interface ControlLimits {
  minimumStroke: number;
  maximumStroke: number;
  /** Smallest on-fraction that still counts as running. */
  minimumOn: number;
  setPoint: number;
  cutOut: number;
  cutIn: number;
}

/** Mean suction of a cycling clutch lies this far between cut-out and cut-in when it is open nearly all the time. */
const CYCLE_MEAN = 0.5;
/** Suction pressures the coordinate can reach, Pa. */
const SUCTION_LOW = 30_000;
const SUCTION_HIGH = 1_600_000;

/**
 * Suction pressure and compressor effort along ONE coordinate u, so that "holds the set point by stroke", "cycles on its switch" and "runs free" are
 * one smooth equation system instead of three. Every unit of u beyond a corner is a factor e in suction pressure.
 *
 *   variable, electric    u < 0: least stroke, suction below the set point    0..1: suction in the band, stroke from least to most    > 1: full stroke
 *   fixed clutch          u > 1: always closed    u_min..1: closed the share u of the time, mean suction cut-out + (1 - u)/2 (cut-in - cut-out)
 *
 * The band of a displacement valve is real: its spring needs a little suction to move (droop).
 */
export function suctionControl(kind: CompressorKind, c: ControlHardware, limits: ControlLimits, u: number, out: SuctionControl): void {
  let p: number;
  if (kind === 'fixed-clutch') {
    const { cutOut, cutIn, minimumOn } = limits;
    out.stroke = limits.maximumStroke;
    if (u >= 1) {
      p = cutOut * Math.exp(u - 1);
      out.onFraction = 1;
    } else {
      const on = u > minimumOn ? u : minimumOn;
      p = cutOut + (1 - on) * CYCLE_MEAN * (cutIn - cutOut);
      if (u < minimumOn) p *= Math.exp(u - minimumOn);
      out.onFraction = on;
    }
  } else {
    const { setPoint, minimumStroke, maximumStroke } = limits;
    out.onFraction = 1;
    if (u <= 0) {
      p = setPoint * Math.exp(u);
      out.stroke = minimumStroke;
    } else if (u < 1) {
      p = setPoint + c.setPointBand * u;
      out.stroke = minimumStroke + (maximumStroke - minimumStroke) * u;
    } else {
      p = (setPoint + c.setPointBand) * Math.exp(u - 1);
      out.stroke = maximumStroke;
    }
  }
  out.pressure = p < SUCTION_LOW ? SUCTION_LOW : p > SUCTION_HIGH ? SUCTION_HIGH : p;
}

/** Effort falls by this factor e for each unit of v beyond the head limit. */
const THROTTLE = 3;

/**
 * Discharge pressure (total, Pa) and the share of its flow the compressor may deliver, along one coordinate v: below 0 the head is
 * p = limit exp(v) and nothing is held back; above 0 the head stays at the limit and the high-pressure switch holds the mean flow down to exp(-3 v).
 */
export function headAt(limit: number, v: number): number {
  return v < 0 ? limit * Math.exp(v) : limit;
}
export function headShare(v: number): number {
  return v > 0 ? Math.exp(-THROTTLE * v) : 1;
}
/** Below this share of the flow the high-pressure switch counts as holding the compressor off. */
export const LEAST_HEAD_SHARE = 0.08;
