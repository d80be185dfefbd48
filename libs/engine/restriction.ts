import type { Analysis } from './analysis.js';
import { entryOf } from './catalogue/entries.js';
import { STEP_K } from './channels/thermal.js';
import type { FaultCode } from './codes.js';
import { placeOfDim } from './functionals.js';
import type { weighedFunctionals } from './ledger.js';
import { placeWords, restrictionsBetween } from './places.js';
import type { Restriction } from './result.js';

const DROPS = ['high-side-drop', 'discharge-line-drop', 'liquid-line-drop', 'low-side-drop'];

/** What may block the stretch is named down to this share of all that may: it is the next test that tells them apart, not a few percent. */
const NAMED = 0.05;

/**
 * Where in the circuit pressure is lost beyond what a healthy system loses there, and what may block it. Read as a restriction only when the
 * excess is more than two of its own widths and the explanations between the two places hold at least a quarter of the probability.
 */
export function restrictionOf(analysis: Analysis, functionals: ReturnType<typeof weighedFunctionals>): Restriction | null {
  const { posterior, input, thermal } = analysis;
  let best: { after: ReturnType<typeof placeOfDim>; before: ReturnType<typeof placeOfDim>; excess: number; z: number } | null = null;
  for (const w of functionals) {
    if (!DROPS.includes(w.f.observation) || w.f.minus === null) continue;
    const excess = w.seen - w.healthy;
    const z = excess / w.tolerance;
    if (z > 2 && (best === null || z > best.z)) best = { after: placeOfDim(w.f.plus), before: placeOfDim(w.f.minus), excess, z };
  }
  if (!best) return null;
  const candidates = restrictionsBetween(best.after, best.before, input.platform.layout);
  const p = (code: FaultCode) => posterior.codes.get(code) ?? 0;
  const total = candidates.reduce((sum, code) => sum + p(code), 0);
  if (candidates.length === 0 || total < 0.25) return null;
  const likely = candidates.filter((code) => p(code) >= NAMED * total).sort((a, b) => p(b) - p(a));
  const insideKnown = likely.length === 1 && likely[0] === 'condenser-passages' && thermal !== null && thermal.stepK > STEP_K;
  const atCartridge = likely.length === 1 && likely[0] === 'filter-cartridge' && thermal?.boundaryStepK != null;
  const heightShare = insideKnown ? thermal!.stepAt : atCartridge ? 1 - (input.platform.subcoolShare ?? 0.22) : null;
  const tell = likely.includes('filter-cartridge') ? 'the temperature step across the cartridge can' : 'temperatures along the way can';
  const names = likely.map((code) => entryOf(code).name.toLowerCase());
  const message =
    `About ${(best.excess / 1e5).toFixed(1)} bar (${(best.excess / 6894.757).toFixed(0)} psi) more than healthy is lost between ${placeWords(best.after)} and ${placeWords(best.before)}: ` +
    (names.length > 1
      ? `${names.slice(0, -1).join(', ')} or ${names.at(-1)}; two pressures alone cannot tell these apart, ${tell}.`
      : `${names[0]}.`);
  return { after: best.after, before: best.before, dropPa: best.excess, candidates: likely, heightShare, message };
}
