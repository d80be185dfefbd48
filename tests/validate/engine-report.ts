import { execFileSync } from 'node:child_process';
import { ENGINE_VERSION } from '#libs/engine/index.js';
import { OBSERVATION_SETS } from './engine-cases.js';
import {
  addedReading,
  againstSimulation,
  type Compared,
  foreignReadings,
  foreignTruth,
  repairCosts,
  rivals,
  swappedPlaces,
} from './engine-checks.js';
import { KNOWLEDGE, knownGood } from './engine-known.js';
import { type Study, summarise, weighty } from './engine-metrics.js';
import { judgeCases } from './engine-study.js';
import { VARIANTS } from './engine-vehicle.js';

/** `node dist/tests/validate/engine-report.js [cases] [firstSeed] [tables|checks|knowledge|simulation]`: every study of the engine as Markdown, with seeds and commit. */
const percent = (x: number) => (Number.isNaN(x) ? '–' : `${(100 * x).toFixed(1)} %`);
const HEAD =
  '| | cases | first | first three | plain first | plain first three | named group | false alarm | missed | misdiagnosed | no response | log loss | slope | charge in interval | loss in interval |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|';

function row(name: string, s: Study): string {
  const shares = [s.top1, s.top3, s.plainTop1, s.plainTop3, s.named, s.falseAlarm, s.missed, s.misdiagnosed, s.noResponse].map(percent);
  return `| ${name} | ${s.cases} | ${shares.join(' | ')} | ${s.logLoss.toFixed(2)} | ${s.calibrationSlope.toFixed(2)} | ${percent(s.chargeCovered)} | ${percent(s.lossCovered)} |`;
}

const compared = (name: string, c: Compared) => `| ${name} | ${c.mean.toFixed(3)} ± ${c.half.toFixed(3)} | ${percent(c.top1)} |`;
const LOSSES = '| | log loss, nats | first |\n|---|---|---|';

const count = Number(process.argv[2] ?? 5000);
const seed = Number(process.argv[3] ?? 90_000_001);
const part = process.argv[4] ?? 'all';
const wanted = (name: string) => part === 'all' || part === name;
const say = (...lines: string[]) => {
  for (const line of lines) console.log(line);
};
const commit = execFileSync('git', ['rev-parse', '--short', 'HEAD'], { encoding: 'utf8' }).trim();
say(`Engine ${ENGINE_VERSION}, commit ${commit}, seeds from ${seed}, ${count} cases in the full set.`, '');

if (wanted('tables')) {
  const sets = OBSERVATION_SETS.map((set) => ({ set, judged: judgeCases(set === 'full' ? count : Math.ceil(count / 3), set, seed) }));
  const full = sets.at(-1)!.judged;
  say('## All draws, graded by impact on what was read', '', HEAD, ...sets.map(({ set, judged }) => row(set, summarise(judged))), '');
  say(
    '## Sound systems and faults that cost at least 5 %',
    '',
    HEAD,
    ...sets.map(({ set, judged }) => row(set, summarise(weighty(judged)))),
    '',
  );
  const layouts = [...new Set(full.map((j) => j.group))].sort();
  const byLayout = layouts.map((layout) => row(layout, summarise(weighty(full.filter((j) => j.group === layout)))));
  say('## By layout, full set, at least 5 %', '', HEAD, ...byLayout, '');
  const codes = [...new Set(weighty(full).map((j) => j.truth))].sort();
  const byFault = codes.map((code) => row(code, summarise(weighty(full).filter((j) => j.truth === code))));
  say('## By fault, full set, at least 5 %', '', HEAD, ...byFault, '');
  const variants = VARIANTS.map((variant) =>
    row(variant, summarise(weighty(judgeCases(Math.ceil(count / 10), 'full', seed, { variant })))),
  );
  say('## Structures the calibration never saw, full set, at least 5 %', '', HEAD, ...variants, '');
}
if (wanted('checks')) {
  for (const set of ['gauges+vent', 'surface', 'temperatures', 'full'] as const) {
    const r = rivals(Math.ceil(count / 5), Math.ceil(count / 2), seed, set);
    const lines = [
      compared('engine', r.engine),
      compared('engine told of the regression’s labels', r.told),
      compared('the same, of the faults among those labels', r.same),
      compared('the same, and of how often systems were sound', r.rated),
      compared('prior', r.prior),
      compared('sign table', r.signs),
      compared('logistic regression', r.logistic),
    ];
    say(`## Rivals in one run, ${set}`, '', LOSSES, ...lines, '');
    say(`Engine told of all the regression knows, less regression: ${r.lead.mean.toFixed(3)} ± ${r.lead.half.toFixed(3)} nats.`, '');
    const c = repairCosts(Math.ceil(count / 5), seed, set);
    const figures = `engine ${c.engine.toFixed(3)}, plain procedure ${c.plain.toFixed(3)}: ${percent(c.saved)} ± ${percent(c.half)} saved.`;
    say(`Wrong-repair cost, shares of a full repair: ${figures}`, '');
  }
  const truths = foreignTruth(Math.ceil(count / 5), seed);
  say(
    '## Whole evidence with the truth of another case',
    '',
    LOSSES,
    compared('engine', truths.engine),
    compared('prior', truths.prior),
    '',
  );
  for (const set of OBSERVATION_SETS) {
    const mixed = foreignReadings(Math.ceil(count / 5), seed, set);
    const lines = [
      compared('engine', mixed.engine),
      compared('engine, measurement mistakes as faults', mixed.plain),
      compared('prior', mixed.prior),
    ];
    say(`## Every reading from another case, ${set}`, '', LOSSES, ...lines, '');
  }
  const swapped = swappedPlaces(Math.ceil(count / 50), seed);
  say(
    `Port and transducer taken for each other: of ${swapped.found} found restrictions (${swapped.cases} cases) ${swapped.kept} keep the verdict.`,
    '',
  );
  const added = addedReading(2 * count, seed);
  const steps = `probability ${added.mean.toFixed(4)} ± ${added.half.toFixed(4)}, its logarithm ${added.logMean.toFixed(4)} ± ${added.logHalf.toFixed(4)}`;
  say(`One true reading more, ${added.cases} cases: ${steps} for the true fault.`, '');
}
if (wanted('knowledge')) {
  for (const set of ['surface', 'temperatures', 'full'] as const) {
    const known = knownGood(Math.ceil(count / (set === 'surface' ? 7 : 70)), seed, set);
    say(`## What was known of sound vehicles before, ${set}, at least 5 %`, '', HEAD);
    say(...KNOWLEDGE.map((knowledge) => row(knowledge, summarise(weighty(known[knowledge])))), '');
  }
}
if (wanted('simulation')) {
  const brute = againstSimulation(Math.ceil((3 * count) / 50), seed, 48);
  const gap = `difference ${brute.difference.toFixed(3)} ± ${brute.half.toFixed(3)} nats`;
  say(`Against brute simulation: fitted ${brute.fitted.toFixed(3)}, simulated ${brute.simulated.toFixed(3)}, ${gap}.`);
}
