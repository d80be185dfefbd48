/**
 * Distance between two signatures of the same version.
 *
 *   d = sqrt( (sum over shared dimensions of (a - b)^2 / 2 + sum over those b lacks of a^2 / 2) / shared ) * sqrt( dimensions of a / shared dimensions )
 *
 * Residuals are standardised, so two readings of one and the same state differ by sqrt(2) standard deviations: d is about 1 for cases that
 * noise alone separates. The last factor keeps a case that shares two readings from looking nearer than one that shares ten. What was not read of b is
 * taken for sound in the distance alone: else a case nobody looked for a's fault in, normal in all the rest, would be the nearest to it.
 *
 * @returns null when fewer than `minimumShared` dimensions are shared.
 */
export function signatureDistance(
  a: readonly (number | null)[],
  b: readonly (number | null)[],
  minimumShared: number,
): { readonly distance: number; readonly shared: number } | null {
  let sum = 0;
  let shared = 0;
  let asked = 0;
  for (let i = 0; i < a.length; i++) {
    const x = a[i];
    if (x === null || x === undefined) continue;
    asked++;
    const y = b[i];
    const isShared = y !== null && y !== undefined;
    // Beyond eight standard deviations a difference is a difference, however large.
    const difference = Math.max(-8, Math.min(8, x - (isShared ? y : 0)));
    sum += (difference * difference) / 2;
    if (isShared) shared++;
  }
  if (shared < minimumShared || shared === 0) return null;
  return { distance: Math.sqrt(sum / shared) * Math.sqrt(asked / shared), shared };
}

/** Dimensions both have, nearest first. */
export function nearestDimensions(a: readonly (number | null)[], b: readonly (number | null)[], count: number): number[] {
  const shared: { readonly i: number; readonly size: number; readonly gap: number }[] = [];
  for (let i = 0; i < a.length; i++) {
    const x = a[i];
    const y = b[i];
    if (x === null || x === undefined || y === null || y === undefined) continue;
    shared.push({ i, size: Math.min(Math.abs(x), Math.abs(y)), gap: Math.abs(x - y) });
  }
  // What makes two cases alike is where both stand far from healthy in the same direction, not where both read normal.
  return shared
    .filter(({ gap, size }) => gap < 2 && size > 1)
    .sort((p, q) => q.size - q.gap - (p.size - p.gap))
    .slice(0, count)
    .map(({ i }) => i);
}
