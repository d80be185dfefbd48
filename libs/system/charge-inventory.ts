/**
 * Void fraction of a two-phase flow by Zivi: alpha = 1/(1 + (1 - x)/x (rhoV/rhoL)^(2/3)).
 * source   S. M. Zivi: Estimation of steady-state steam void-fraction by means of the principle of minimum entropy production, J. Heat Transfer 86 (1964).
 */
export function ziviVoidFraction(x: number, rhoL: number, rhoV: number): number {
  const c = Math.cbrt((rhoV / rhoL) ** 2);
  return x / (c + (1 - c) * x);
}

/**
 * Mean density over a stretch in which quality runs evenly from x1 to x2 (constant heat flux), kg/m3: rhoL - (rhoL - rhoV) mean(alpha).
 *
 *   integral of alpha dx = x/(1 - c) - c/(1 - c)^2 ln(c + (1 - c) x),   c = (rhoV/rhoL)^(2/3)
 */
export function meanTwoPhaseDensity(x1: number, x2: number, rhoL: number, rhoV: number): number {
  const c = Math.cbrt((rhoV / rhoL) ** 2);
  const d = 1 - c;
  const a = x1 < 0 ? 0 : x1;
  const b = x2 < 0 ? 0 : x2;
  let alpha: number;
  if (Math.abs(b - a) < 1e-5) {
    const x = 0.5 * (a + b);
    alpha = x / (c + d * x);
  } else alpha = (1 - ((c / d) * Math.log((c + d * b) / (c + d * a))) / (b - a)) / d;
  return rhoL - (rhoL - rhoV) * alpha;
}
