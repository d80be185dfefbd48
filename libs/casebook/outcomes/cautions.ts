import type { Clock, ClockFit } from '#libs/contracts/index.js';

/** What a reader must know beside every figure about returns: the share of repairs whose returns could not be seen at all. */
export function linkageCautions(linkedShare: number, episodes: number): string[] {
  if (episodes === 0 || linkedShare >= 0.95) return [];
  return [
    `${Math.round((1 - linkedShare) * 100)} % of these repairs are on vehicles without VIN or plate: their returns cannot be seen, so the figures are a lower bound.`,
  ];
}

export function linkedShareOf(spans: readonly { readonly linkedBy: string }[]): number {
  return spans.length === 0 ? 0 : spans.filter((span) => span.linkedBy !== 'none').length / spans.length;
}

/** What a reader of the wrong clock must know. */
export function clockCautions(fit: ClockFit, clock: Clock): string[] {
  if (clock === 'degree-days' && fit.verdict === 'calendar') return [fit.message];
  if (clock === 'calendar-days' && fit.verdict === 'heat') {
    return [`${fit.message} On the calendar the season of the repair is mixed into the figure: ask on degree-days.`];
  }
  return [];
}
