import type { PatternBoard, PatternQuestion, PatternRatio, PatternVerdict, RecurringPattern } from '../client/generated/api.ts';
import { faultCodeValues, patternIncludeValues } from '../client/generated/api.ts';
import { usePatterns } from '../client/outcome-queries.ts';
import { usePlatforms } from '../client/queries.ts';
import { Forest, type ForestRow } from '../plots/forest.tsx';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { Heads } from '../shell/heads.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { count, decimal, inSentence, moment, percent, plural, said, words } from '../shell/words.ts';
import { behindAddress } from './behind.tsx';
import { FAULTS, known, platformChoices } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { LagProfile } from './lag-profile.tsx';
import { pairName } from './pair.ts';
import { ScoreAgain } from './score-again.tsx';
import { Stale } from './stale.tsx';

const PATH = '/recurrences/patterns';
const INCLUDES = [
  ['found', 'found only'],
  ['weighed', 'also not shown'],
  ['all', 'also too few'],
] as const;
const VERDICTS: Readonly<Record<PatternVerdict, string>> = {
  replicated: 'Found, and found again',
  discovered: 'Found once, not again',
  'not-shown': 'Not shown',
  'too-few': 'Too few to tell',
};

const quoted = ({ ratio, low, high }: PatternRatio) =>
  ratio === null ? '–' : `${decimal(ratio)}${low === null || high === null ? '' : ` (${decimal(low)}–${decimal(high)})`}`;

/** Which fault follows which on the same vehicle, beyond what like vehicles have anyway, and what speaks for and against each. */
export function Patterns({ search }: { readonly search: URLSearchParams }) {
  const include = known(search.get('include'), patternIncludeValues) ?? 'found';
  const cause = known(search.get('cause'), faultCodeValues);
  const effect = known(search.get('effect'), faultCodeValues);
  const either = known(search.get('fault'), faultCodeValues);
  const platformId = search.get('platform') ?? undefined;
  const question: PatternQuestion = { include, ...(platformId ? { platformId } : {}) };
  const query = usePatterns(question);
  const platforms = usePlatforms();
  const change = (part: Record<string, string>) => goTo(address(PATH, { ...Object.fromEntries(search), ...part }));
  return (
    <div className="stack">
      <div className="board-head">
        <div>
          <h1>One fault after another</h1>
          <p className="lead">
            {query.data?.scoredAt
              ? said(query.data.message)
              : 'Fault A, later fault B on the same car, more often than like cars have B anyway.'}
          </p>
        </div>
        <div className="filters no-print">
          <Choice label="Either fault" value={either ?? ''} options={FAULTS} none="every fault" change={(fault) => change({ fault })} />
          <Choice
            label="Platform"
            value={platformId ?? ''}
            options={platformChoices(platforms.data)}
            none="every platform"
            change={(platform) => change({ platform })}
          />
          <Choice label="Show" value={include} options={INCLUDES} none={null} change={(value) => change({ include: value })} />
        </div>
      </div>
      <Answered query={query} what="the patterns">
        {(board) => <PatternsOf board={board} cause={cause} effect={effect} either={either} search={search} />}
      </Answered>
    </div>
  );
}

interface OfProps {
  readonly board: PatternBoard;
  readonly cause: string | undefined;
  readonly effect: string | undefined;
  readonly either: string | undefined;
  readonly search: URLSearchParams;
}

function PatternsOf({ board, cause, effect, either, search }: OfProps) {
  const patterns = board.patterns.filter((one) => either === undefined || one.cause === either || one.effect === either);
  const chosen = patterns.find((one) => one.cause === cause && one.effect === effect) ?? patterns[0];
  if (board.scoredAt === null) {
    return (
      <>
        <Nothing title="Patterns have not been weighed yet.">
          The worker weighs every pair of proved faults, on one half of the cars and again on the other.
          <ScoreAgain subject="patterns" />
        </Nothing>
        <Fineprint cautions={board.cautions} definitions={board.definitions} />
      </>
    );
  }
  return (
    <>
      {patterns.length === 0 ? (
        <Nothing title="No pair of faults is found here.">
          Of {plural(board.replicated + board.discovered + board.notShown + board.tooFew, 'pair')}, {count(board.notShown)} show nothing
          beyond chance and {count(board.tooFew)} have too few events. Show these too, or record more proofs: only proved causes count.
        </Nothing>
      ) : (
        <section className="sheet stack" aria-label="Pairs">
          <div className="row spread">
            <p className="quiet">
              Weighed {moment(board.scoredAt)}: {count(board.provedVisits)} proved visits of {count(board.vehicles)} cars,{' '}
              {percent(board.linkedShare)} of them on cars that can be followed.
            </p>
            <div className="row no-print">
              <ScoreAgain subject="patterns" />
              <button type="button" onClick={() => savePatterns(patterns)}>
                CSV
              </button>
            </div>
          </div>
          <Stale isStale={board.isStale} />
          <PairTable patterns={patterns} chosen={chosen} search={search} />
        </section>
      )}
      {chosen ? <PatternEvidence key={`${chosen.cause} ${chosen.effect}`} pattern={chosen} /> : null}
      <Fineprint cautions={board.cautions} definitions={board.definitions} />
    </>
  );
}

interface TableProps {
  readonly patterns: readonly RecurringPattern[];
  readonly chosen: RecurringPattern | undefined;
  readonly search: URLSearchParams;
}

function PairTable({ patterns, chosen, search }: TableProps) {
  return (
    <div className="table-wrap">
      <table className="chooser">
        <caption>{plural(patterns.length, 'pair')}; open one for its evidence.</caption>
        <Heads
          of={[
            ['Later fault, earlier fault'],
            ['Standing'],
            [
              <>
                Times as often <br /> (95 % interval)
              </>,
              'number',
            ],
            ['Surely above', 'number'],
            ['Seen / expected', 'number'],
            ['Shops', 'number'],
            ['Half within', 'number'],
          ]}
        />
        <tbody>
          {patterns.map((one) => (
            <tr key={`${one.cause} ${one.effect}`} aria-current={one === chosen ? 'true' : undefined}>
              <th scope="row">
                <a href={address(PATH, { ...Object.fromEntries(search), cause: one.cause, effect: one.effect })}>
                  {words(one.effect)} after {inSentence(one.cause)}
                </a>
              </th>
              <td>
                {VERDICTS[one.verdict]} {one.doubtful ? <span className="flag">may be one fault seen twice</span> : null}
              </td>
              <td className="number">{quoted(one.verdict === 'replicated' ? one.replication : one.both)}</td>
              <td className="number">{one.eb05 === null ? '–' : decimal(one.eb05)}</td>
              <td className="number">
                {count(one.both.observed)} / {decimal(one.both.expected)}
              </td>
              <td className="number">{one.shops}</td>
              <td className="number">{one.medianLagDays === null ? '–' : `${count(one.medianLagDays)} days`}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function PatternEvidence({ pattern }: { readonly pattern: RecurringPattern }) {
  const { cause, effect, doubt, reverse, platforms } = pattern;
  const file = `${cause}-then-${effect}`;
  const row = (key: string, name: string, ratio: PatternRatio, strong = false): ForestRow => ({
    key,
    name,
    point: ratio.ratio,
    low: ratio.low,
    high: ratio.high,
    stands: `${count(ratio.observed)} seen, ${decimal(ratio.expected)} expected`,
    strong,
    shape: key === 'reverse' ? 'unknown' : 'permanent',
  });
  return (
    <section className="stack" aria-label={`Evidence: ${pairName(pattern)}`}>
      <div className="sheet stack">
        <h2>
          {words(effect)} after {inSentence(cause)}
        </h2>
        <p>{said(pattern.message)}</p>
        {doubt === null ? null : (
          <p className="state state-warning">
            <span>
              <strong>May be one fault seen twice.</strong> {doubt}
            </span>
          </p>
        )}
        <dl className="facts">
          <dt>Found on one half of the cars</dt>
          <dd>
            {quoted(pattern.discovery)} times, false findings among such pairs{' '}
            {pattern.qValue < 0.001 ? 'under 0.1 %' : percent(pattern.qValue)}
          </dd>
          <dt>Again on the other half</dt>
          <dd>{quoted(pattern.replication)} times; this is the figure to quote</dd>
          <dt>Negative control: the other way round</dt>
          <dd>{reverse === null ? 'not seen often enough to weigh' : `${quoted(reverse)} times`}</dd>
          <dt>Found together at one visit</dt>
          <dd>{plural(pattern.foundTogether, 'time')}, counted neither way</dd>
          <dt>The catalogue of faults</dt>
          <dd>{pattern.inCatalogue ? 'names the later as a consequence of the earlier' : 'does not name the later as a consequence'}</dd>
          <dt>Cases</dt>
          <dd>
            <a href={behindAddress(pattern.casesBehind)}>
              with {inSentence(effect)} after {inSentence(cause)}
            </a>
            , <a href={address('/recurrences/cases', { fault: effect })}>every one with {inSentence(effect)}</a>,{' '}
            <a href={address('/recurrences/cases', { fault: cause })}>every one with {inSentence(cause)}</a>
          </dd>
        </dl>
      </div>
      <div className="beside even">
        <div className="sheet">
          <Forest
            narrow
            title="How many times as often"
            words="Each half of the cars for itself, and the pair the other way round as a control: a true consequence shows on both halves and not in reverse."
            file={`${file}-evidence`}
            label="rate ratio, like cars = 1 (equal steps multiply)"
            ratios
            rows={[
              row('discovery', 'where it was found', pattern.discovery),
              row('replication', 'on the other half', pattern.replication, true),
              row('both', 'both halves', pattern.both),
              ...(reverse === null ? [] : [row('reverse', 'the other way round', reverse)]),
            ]}
            show={decimal}
            marks={[{ at: 1, name: 'like cars' }]}
          />
        </div>
        <div className="sheet">
          <LagProfile pattern={pattern} file={file} />
        </div>
      </div>
      {platforms.length === 0 ? null : (
        <div className="sheet">
          <Forest
            title="Platform by platform"
            words="A filled circle: the platform is selected with false findings controlled. A square: not selected."
            file={`${file}-platforms`}
            label="rate ratio, like cars = 1 (equal steps multiply)"
            ratios
            rows={platforms.map(({ platformId, platformName, selected, ratio }) => ({
              ...row(platformId, platformName, ratio, selected),
              shape: selected ? ('permanent' as const) : ('unknown' as const),
              href: address('/recurrences/cases', { fault: effect, platform: platformId }),
            }))}
            show={decimal}
            marks={[{ at: 1, name: 'like cars' }]}
          />
        </div>
      )}
    </section>
  );
}

function savePatterns(patterns: readonly RecurringPattern[]): void {
  downloadCsv(
    'patterns',
    ['earlier', 'later', 'verdict', 'ratio', 'low', 'high', 'EB05', 'q', 'observed', 'expected', 'shops', 'median lag, days', 'doubtful'],
    patterns.map((one) => [
      one.cause,
      one.effect,
      one.verdict,
      one.replication.ratio,
      one.replication.low,
      one.replication.high,
      one.eb05,
      one.qValue,
      one.both.observed,
      one.both.expected,
      one.shops,
      one.medianLagDays,
      one.doubtful ? 'yes' : 'no',
    ]),
  );
}
