import type { EngineQuality, QualityFigures, QualityQuestion } from '../client/generated/api.ts';
import { judgedAnswersValues, layoutValues, observationSetValues } from '../client/generated/api.ts';
import { useEngineQuality } from '../client/settings-queries.ts';
import { Forest, type ForestRow } from '../plots/forest.tsx';
import { known, PeriodFilters, periodOf } from '../recurrences/filters.tsx';
import { Fineprint } from '../recurrences/fineprint.tsx';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { count, decimal, inSentence, percent, plural, said, words } from '../shell/words.ts';
import { JudgedCases } from './judged-cases.tsx';
import { RediagnosisPart } from './rediagnosis.tsx';
import { ReliabilityCurve } from './reliability-curve.tsx';
import { SimulatedFigures } from './simulated-figures.tsx';

const PATH = '/settings/engine';
const ANSWERS = {
  latest: 'what the engine says now',
  given: 'what had been given out',
} as const;

/** The engine that runs, and how well it did on cases whose cause was proved. */
export function Engine({ search }: { readonly search: URLSearchParams }) {
  const { since, until, platformId } = periodOf(search);
  const answers = known(search.get('answers'), judgedAnswersValues) ?? 'latest';
  const layout = known(search.get('layout'), layoutValues);
  const observationSet = known(search.get('set'), observationSetValues);
  const question: QualityQuestion = {
    answers,
    ...(since ? { since } : {}),
    ...(until ? { until } : {}),
    ...(platformId ? { platformId } : {}),
    ...(layout ? { layout } : {}),
    ...(observationSet ? { observationSet } : {}),
  };
  const query = useEngineQuality(question);
  const change = (part: Record<string, string>) => goTo(address(PATH, { ...Object.fromEntries(search), ...part }));
  return (
    <div className="stack">
      <div className="stack tight">
        <h1>The engine</h1>
        <p className="lead">
          {query.data
            ? `Version ${query.data.engineVersion}. ${said(query.data.message)}`
            : 'The engine that runs, judged on proved cases.'}
        </p>
      </div>
      <PeriodFilters path={PATH} search={search} faults={false}>
        <Choice
          label="Judged by"
          value={answers}
          options={judgedAnswersValues.map((code) => [code, ANSWERS[code]] as const)}
          none={null}
          change={(value) => change({ answers: value })}
        />
        <Choice
          label="Layout"
          value={layout ?? ''}
          options={layoutValues.map((code) => [code, words(code)] as const)}
          none="every layout"
          change={(value) => change({ layout: value })}
        />
        <Choice
          label="What was read"
          value={observationSet ?? ''}
          options={observationSetValues.map((code) => [code, words(code)] as const)}
          none="anything"
          change={(value) => change({ set: value })}
        />
      </PeriodFilters>
      <Answered query={query} what="the engine’s quality">
        {(quality) => <Quality quality={quality} question={question} />}
      </Answered>
    </div>
  );
}

function Quality({ quality, question }: { readonly quality: EngineQuality; readonly question: QualityQuestion }) {
  return (
    <>
      {quality.overall === null ? (
        <Nothing title={quality.verdict === 'none' ? 'No answer was judged yet.' : 'There are not enough proved cases yet.'}>
          {plural(quality.judged, 'case')} with an answer, {count(quality.proved)} of them proved. Record causes as they were established:
          an opened part, a laboratory, or readings after the repair.
        </Nothing>
      ) : (
        <>
          <Overall quality={quality} figures={quality.overall} />
          {quality.reliability === null ? null : (
            <section className="sheet" aria-label="Reliability">
              <ReliabilityCurve reliability={quality.reliability} />
            </section>
          )}
          <Breakdown quality={quality} />
        </>
      )}
      <RediagnosisPart />
      <SimulatedFigures study={quality.simulated} />
      {quality.proved > 0 ? <JudgedCases question={question} /> : null}
      <Fineprint cautions={quality.cautions} definitions={quality.definitions} />
    </>
  );
}

function Overall({ quality, figures }: { readonly quality: EngineQuality; readonly figures: QualityFigures }) {
  const { accuracy } = quality;
  return (
    <section className="sheet stack" aria-label="How the answers ended">
      <Forest
        title="How the answers ended"
        words={`${plural(figures.n, 'proved case')} of ${count(quality.judged)} judged ones, from ${plural(quality.shops, 'shop')}; exact 95 % limits. ${quality.waiting === 0 ? '' : `${count(quality.waiting)} more wait for the present engine.`}`}
        file="engine-outcomes"
        label="share of proved cases, %"
        within={[0, 1]}
        rows={[
          ...figures.outcomes.map(
            ({ outcome, share }): ForestRow => ({
              key: outcome,
              name: words(outcome),
              point: share.share,
              low: share.low,
              high: share.high,
              stands: `${count(share.events)} of ${count(share.n)}`,
              strong: outcome === 'correct',
            }),
          ),
          {
            key: 'top3',
            name: 'Among the first three',
            point: figures.top3.share,
            low: figures.top3.low,
            high: figures.top3.high,
            stands: `${count(figures.top3.events)} of ${count(figures.top3.n)}`,
            shape: 'unknown',
          },
        ]}
        show={percent}
      />
      {accuracy.corrected === null ? null : (
        <p>
          First answer right, corrected for which cases get proved: {percent(accuracy.corrected)}
          {accuracy.low === null || accuracy.high === null ? '' : ` (${percent(accuracy.low)} to ${percent(accuracy.high)})`}. Without any
          assumption it lies between {accuracy.least === null ? '0 %' : percent(accuracy.least)} and{' '}
          {accuracy.most === null ? '100 %' : percent(accuracy.most)}.
        </p>
      )}
      <p>
        {figures.logLoss === null
          ? ''
          : `Log loss ${decimal(figures.logLoss.value)} (${decimal(figures.logLoss.low)} to ${decimal(figures.logLoss.high)}). `}
        {figures.brier === null
          ? ''
          : `Brier score ${decimal(figures.brier.value)} (${decimal(figures.brier.low)} to ${decimal(figures.brier.high)}), from 0, the best, to 2.`}
      </p>
    </section>
  );
}

function Breakdown({ quality }: { readonly quality: EngineQuality }) {
  const row = (key: string, name: string, { top1 }: Pick<QualityFigures, 'top1'>): ForestRow => ({
    key,
    name,
    point: top1.share,
    low: top1.low,
    high: top1.high,
    stands: `${count(top1.events)} of ${count(top1.n)}`,
  });
  const groups = [
    {
      title: 'By what was read',
      file: 'engine-by-reading',
      rows: quality.byObservationSet.map(({ observationSet, figures }) => row(observationSet, words(observationSet), figures)),
    },
    {
      title: 'By layout',
      file: 'engine-by-layout',
      rows: quality.byLayout.map(({ layout, figures }) => row(layout, words(layout), figures)),
    },
    {
      title: 'By how the cause was proved',
      file: 'engine-by-proof',
      rows: quality.byProof.map(({ method, figures }) => row(method, words(method), figures)),
    },
    {
      title: 'By fault',
      file: 'engine-by-fault',
      rows: quality.byFault.map((one) => row(one.fault, inSentence(one.fault), one)),
    },
  ].filter(({ rows }) => rows.length > 0);
  return (
    <div className="beside even">
      {groups.map(({ title, file, rows }) => (
        <section className="sheet" key={file} aria-label={title}>
          <Forest
            narrow
            title={title}
            words="Share of proved cases in which the first of the ranking was the proved one; exact 95 % limits."
            file={file}
            label="first answer right, %"
            within={[0, 1]}
            rows={rows}
            show={percent}
          />
        </section>
      ))}
    </div>
  );
}
