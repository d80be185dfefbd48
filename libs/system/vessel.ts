/**
 * Liquid level of a receiver or accumulator from what the rest of the circuit leaves for it, as a share of its usable volume:
 *
 *   L = (M - M_elsewhere - V rhoV)/(V usable (rhoL - rhoV))
 *
 * Below 0 there is not enough charge for any liquid here, above 1 too much.
 */
export function levelNeeded(volume: number, usable: number, rest: number, rhoL: number, rhoV: number): number {
  return (rest - volume * rhoV) / (volume * usable * (rhoL - rhoV));
}

/** Enthalpy excess of what enters that counts like a full vessel, J/kg: only scales the residual. */
const SCALE = 50_000;
/** Share of the level over which one regime passes into the next: near full, some liquid is carried over before the vessel is brim-full. */
const BLEND = 0.01;

/** 0..1 held with rounded corners: x between BLEND and 1 - BLEND, 0 and 1 well outside, quadratic in between (value and slope meet). */
function heldLevel(x: number): number {
  if (x <= -BLEND) return 0;
  if (x < BLEND) return (x + BLEND) ** 2 / (4 * BLEND);
  if (x <= 1 - BLEND) return x;
  if (x < 1 + BLEND) return 1 - (1 + BLEND - x) ** 2 / (4 * BLEND);
  return 1;
}

/**
 * The vessel's own condition as one equation, zero when it holds:
 *
 *   level partial   what enters is exactly what can leave: saturated liquid from a receiver, vapour with the bleed's liquid from an accumulator
 *   level 0         what enters is drier (vapour in the liquid line, superheat after the accumulator)
 *   level 1         what enters is wetter (liquid backs up; the accumulator floods the compressor)
 *
 *   F = L - held(L + (h* - h)/scale)        h* enthalpy that can leave from a partial level, h the enthalpy entering, held to 0..1
 *
 * so the plateau of a charge map is the middle branch, and its width is the vessel's usable volume.
 */
export function vesselResidual(level: number, hLeaving: number, hEntering: number): number {
  return level - heldLevel(level + (hLeaving - hEntering) / SCALE);
}
