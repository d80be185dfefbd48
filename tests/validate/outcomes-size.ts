/** Size of the simulation studies: a tenth within the test suite, all of it with COOLBACK_STUDY=full. */
export const FULL = process.env['COOLBACK_STUDY'] === 'full';

export function studySize(full: number): number {
  return FULL ? full : Math.ceil(full / 10);
}

/** Figures of a full study, for docs/statistics.md. */
export function tell(study: string, figures: unknown): void {
  if (FULL) console.log(`${study}: ${JSON.stringify(figures)}`);
}
