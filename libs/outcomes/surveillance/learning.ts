import { BadSample } from '#libs/numeric/index.js';

/**
 * Expectations of counts whose rate is known with an error, learned on from week to week: what each week's count is likely to be, given the weeks before.
 *
 * y_t ~ NB(theta m_t, s), theta ~ Gamma(a, rate a);  given the weeks before: mean m_t A/B, size s' with 1/s' = 1/s + 1/A + 1/(s A)
 * A = a + w sum y/(1 + m/s), B = a + w sum m/(1 + m/s) over the weeks before
 *
 * m expected count by the estimated rate; a its certainty in events (1 over the squared relative error), > 0; s size of the weekly counts about their true means, Infinity
 * for Poisson. With s infinite the y_t are, under an unchanged rate, exactly independent draws from these predictions, so that a chart on them keeps the false-alarm
 * rate of one whose rate is known; a plain chart with a rate estimated from 30 events does not. With s finite each week counts as its information is worth, and the
 * moments are kept, not the whole distribution. The price: a rise that lasts is learned in time, sooner the less was known; a `weight` w under 1 takes a week for that
 * share of its information, between the exact prediction (1) and a rate that is never learned (0).
 * Weeks left out (`null`) teach nothing and have the prediction of the weeks before. BadSample for a certainty or size <= 0 and counts or means that are negative.
 * Source: the idea of a self-starting chart, Hawkins (1987), The Statistician 36:299 (from memory); gamma-Poisson prediction is textbook.
 */
export interface LearnedWeek {
  readonly expected: number;
  readonly size: number;
}

export function learnedExpectations(
  weeks: readonly { readonly count: number | null; readonly expected: number }[],
  certainty: number,
  size: number,
  weight = 1,
): readonly LearnedWeek[] {
  if (!(certainty > 0 && size > 0 && weight >= 0 && weight <= 1))
    throw new BadSample(`certainty ${certainty} and size ${size} must be > 0, weight ${weight} in 0..1`);
  let events = certainty;
  let foreseen = certainty;
  return weeks.map(({ count, expected }, week) => {
    if (!(expected >= 0 && (count ?? 0) >= 0)) throw new BadSample(`week ${week}: count ${count}, expected ${expected}`);
    const learned = Object.freeze({ expected: (expected * events) / foreseen, size: predictiveSize(size, events) });
    const worth = weight / (1 + expected / size);
    if (count !== null) {
      events += count * worth;
      foreseen += expected * worth;
    }
    return learned;
  });
}

/** Size of a count about a mean that is itself known as if from so many events. */
export function predictiveSize(size: number, certainty: number): number {
  const inverse = (size === Number.POSITIVE_INFINITY ? 0 : 1 / size) * (1 + 1 / certainty) + 1 / certainty;
  return inverse > 0 ? 1 / inverse : Number.POSITIVE_INFINITY;
}
