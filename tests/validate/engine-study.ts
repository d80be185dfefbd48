import { diagnose } from '#libs/engine/index.js';
import { type Case, drawCase, OBSERVATION_SETS, type ObservationSet } from './engine-cases.js';
import { byClass, type Judged, type Study, summarise } from './engine-metrics.js';

/** Cases of one observation set, judged by the engine. Seeds are consecutive; draws without a steady state are passed over. */
export function judgeCases(count: number, set: ObservationSet, firstSeed = 1): Judged[] {
  const judged: Judged[] = [];
  for (let seed = firstSeed; judged.length < count && seed < firstSeed + 3 * count; seed++) {
    const drawn = drawCase(seed, set);
    if (drawn) judged.push(judge(drawn));
  }
  return judged;
}

export function judge(drawn: Case): Judged {
  const result = diagnose(drawn.input);
  return {
    truth: drawn.truth,
    truthClass: drawn.truthClass,
    drawnClass: drawn.classOf(drawn.truth),
    group: drawn.layout,
    classes: byClass(result, drawn.classOf),
    status: result.status,
  };
}

const percent = (x: number) => (Number.isNaN(x) ? '–' : `${(100 * x).toFixed(1)} %`);

function row(name: string, s: Study): string {
  return `| ${name} | ${s.cases} | ${percent(s.top1)} | ${percent(s.top3)} | ${percent(s.falseAlarm)} | ${percent(s.missed)} | ${percent(s.misdiagnosed)} | ${percent(s.noResponse)} | ${s.logLoss.toFixed(2)} | ${s.calibrationSlope.toFixed(2)} |`;
}
const HEAD =
  '| | cases | first answer right | among first three | false alarm | missed | misdiagnosed | no response | log loss | calibration slope |\n|---|---|---|---|---|---|---|---|---|---|';

/** The whole study as Markdown. */
export function report(count: number): string {
  const out: string[] = ['By observation set', '', HEAD];
  const all: Judged[] = [];
  const full: Judged[] = [];
  for (const set of OBSERVATION_SETS) {
    const judged = judgeCases(count, set);
    all.push(...judged);
    if (set === 'full') full.push(...judged);
    out.push(row(set, summarise(judged)));
  }
  out.push('', 'By layout, all sets', '', HEAD);
  for (const layout of ['orifice-accumulator', 'valve-receiver', 'valve-integral-receiver'])
    out.push(row(layout, summarise(all.filter((j) => j.group === layout))));
  out.push(
    '',
    'By fault, full set (as drawn; a fault that changes nothing read counts as healthy)',
    '',
    '| fault | cases | first answer right | among first three |',
    '|---|---|---|---|',
  );
  const codes = [...new Set(full.map((j) => j.truth))].sort();
  for (const code of codes) {
    const s = summarise(full.filter((j) => j.truth === code));
    out.push(`| ${code} | ${s.cases} | ${percent(s.top1)} | ${percent(s.top3)} |`);
  }
  return out.join('\n');
}

if (process.argv[1]?.replaceAll('\\', '/').includes('/validate/engine-study.')) {
  const count = Number(process.argv[2] ?? 2000);
  console.log(report(count));
}
