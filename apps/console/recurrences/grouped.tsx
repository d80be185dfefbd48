import type { GroupDimension, GroupedLine, GroupedQuestion, GroupedReturns } from '../client/generated/api.ts';
import { clockValues, groupDimensionValues, repairIntentValues } from '../client/generated/api.ts';
import { useGroupedReturns } from '../client/outcome-queries.ts';
import { Forest } from '../plots/forest.tsx';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { count, decimal, inSentence, percent, plural, said } from '../shell/words.ts';
import { behindAddress } from './behind.tsx';
import { CLOCK_NAMES, CLOCK_UNITS, clockPart, horizonWords } from './clock.ts';
import { ClockWords } from './clock-words.tsx';
import { known, PeriodFilters, periodOf } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { IntentChoice, ShopChoice } from './group-choices.tsx';
import { INTENT_NAMES } from './intent.tsx';

const PATH = '/recurrences/grouped';
const DIMENSIONS: Readonly<Record<GroupDimension, string>> = {
  platform: 'platform',
  family: 'family of platforms',
  fault: 'fault',
  action: 'what was done',
  intent: 'kind of repair',
  shop: 'shop',
  climate: 'climate',
  season: 'season',
  year: 'year',
  month: 'month',
  partNumber: 'part number',
  partBrand: 'brand of the part',
  partLot: 'lot of the part',
  modelYear: 'model year',
  plant: 'plant that built the car',
};
/** An answer takes at most one of these. */
const OF_PARTS: readonly GroupDimension[] = ['partNumber', 'partBrand', 'partLot'];
/** Drawn; the table below has all. */
const DRAWN = 15;
/** Of the first, second and third dimension. */
const PLACES = ['By', 'then by', 'and then by'] as const;
const MOST_DIMENSIONS = PLACES.length;

/** Returns told apart by what the director chooses: part lots, plants, seasons, climates. The address holds the question. */
export function Grouped({ search }: { readonly search: URLSearchParams }) {
  const asked = (search.get('by') ?? '').split(',').flatMap((one) => known(one, groupDimensionValues) ?? []);
  const by: readonly GroupDimension[] = asked.length === 0 ? ['family', 'intent'] : [...new Set(asked)].slice(0, MOST_DIMENSIONS);
  const clock = known(search.get('clock'), clockValues) ?? 'degree-days';
  const intent = known(search.get('intent'), repairIntentValues);
  const shopId = search.get('shop') ?? undefined;
  const group = { ...periodOf(search), ...(intent ? { intent } : {}), ...(shopId ? { shopId } : {}) };
  const question: Omit<GroupedQuestion, 'by'> & { by: string } = { ...group, clock, by: by.join(',') };
  const query = useGroupedReturns(question);
  const change = (part: Record<string, string>) => goTo(address(PATH, { ...Object.fromEntries(search), ...part }));
  const turn = (place: number, value: GroupDimension | '') => {
    const next = by.map((one, i) => (i === place ? value : one)).concat(place >= by.length ? [value] : []);
    change({ by: next.filter((one) => one !== '').join(',') });
  };
  return (
    <div className="stack">
      <div className="stack tight">
        <h1>Returns told apart</h1>
        <p className="lead">
          Which part lots, plants, seasons, climates or shops returns come from
          {query.data ? `: ${plural(query.data.lines.length + query.data.left, 'line')} of ${plural(query.data.episodes, 'repair')}` : ''}.
        </p>
      </div>
      <div className="filters no-print">
        {Array.from({ length: Math.min(by.length + 1, MOST_DIMENSIONS) }, (_, place) => (
          <Choice
            key={by[place] ?? 'next'}
            label={PLACES[place]!}
            value={by[place] ?? ''}
            options={groupDimensionValues
              .filter((one) => one === by[place] || !(by.includes(one) || (OF_PARTS.includes(one) && by.some(isOfParts))))
              .map((one) => [one, DIMENSIONS[one]] as const)}
            none={place === 0 && by.length === 1 ? null : 'nothing more'}
            change={(value) => turn(place, value)}
          />
        ))}
        <Choice
          label="Clock"
          value={clock}
          options={CLOCK_NAMES}
          none={null}
          change={(value) => change({ clock: clockPart(value || clock) })}
        />
      </div>
      <PeriodFilters path={PATH} search={search}>
        <IntentChoice value={intent} change={(value) => change({ intent: value })} />
        <ShopChoice value={shopId} change={(value) => change({ shop: value })} />
      </PeriodFilters>
      <Answered query={query} what="the returns">
        {(answer) => <Lines answer={answer} />}
      </Answered>
    </div>
  );
}

const isOfParts = (one: GroupDimension) => OF_PARTS.includes(one);
type Key = GroupedLine['keys'][number];

/** A value of a dimension in the words the other pages use. */
function keyWords({ dimension, value, label }: Key): string {
  if (value === '') return dimension === 'intent' ? INTENT_NAMES.unknown : 'not known';
  if (dimension === 'intent') return INTENT_NAMES[known(value, repairIntentValues) ?? 'unknown'];
  if (dimension === 'fault' || dimension === 'action') return inSentence(value);
  return said(label);
}

const nameOf = ({ keys }: GroupedLine) => keys.map(keyWords).join(' · ');
const intentOf = ({ keys }: GroupedLine) => known(keys.find(({ dimension }) => dimension === 'intent')?.value ?? null, repairIntentValues);
const keyOf = ({ keys }: GroupedLine) => keys.map(({ dimension, value }) => `${dimension}=${value}`).join('&');

const repairsOf = ({ casesBehind }: GroupedLine) => (casesBehind === null ? undefined : behindAddress(casesBehind));

function Lines({ answer }: { readonly answer: GroupedReturns }) {
  const { lines, clock, horizon, by } = answer;
  if (lines.length === 0) {
    return (
      <Nothing title="No repairs to tell apart.">
        Ask for a longer period, take filters off, or choose the calendar where cars have no odometer readings.
      </Nothing>
    );
  }
  return (
    <>
      <ClockWords answer={answer} />
      <section className="sheet" aria-label="The surest returns">
        <Forest
          title={`By ${by.map((one) => DIMENSIONS[one]).join(' and ')}`}
          words={`Chance to be back within ${horizonWords(clock, horizon)}, 95 % intervals, the surest returns first${
            lines.length > DRAWN ? `; ${DRAWN} of ${count(lines.length)} are drawn, all stand in the table below` : ''
          }. What has few repairs is drawn towards the wider group.`}
          file={`returns-by-${by.join('-')}`}
          label="chance of a return, %"
          within={[0, 1]}
          rows={lines.slice(0, DRAWN).map((line) => ({
            key: keyOf(line),
            name: nameOf(line),
            point: line.probability,
            low: line.low,
            high: line.high,
            stands: `${count(line.returns)} of ${plural(line.episodes, 'repair')}`,
            href: repairsOf(line),
            shape: intentOf(line),
          }))}
          show={percent}
        />
      </section>
      <section className="sheet stack" aria-label="Every line">
        <div className="row spread">
          <h2>Every line</h2>
          <button type="button" className="no-print small" onClick={() => saveLines(answer)}>
            CSV of every line
          </button>
        </div>
        <LongTable
          caption={`${plural(lines.length, 'line')}, the surest returns first.`}
          rows={lines}
          rowKey={keyOf}
          rowHeight={37}
          columns={columnsOf(answer)}
        />
        {answer.left === 0 ? null : <p className="quiet">{plural(answer.left, 'line')} more are not shown: ask for fewer dimensions.</p>}
        {answer.withheld === 0 ? null : <p className="quiet">{plural(answer.withheld, 'line')} more are of too few shops to be shown.</p>}
      </section>
      <Fineprint
        cautions={answer.cautions}
        definitions={[...answer.definitions, 'Followed: the share of these repairs whose car can be followed from shop to shop.']}
      />
    </>
  );
}

const columnsOf = ({ by }: GroupedReturns): readonly LongColumn<GroupedLine>[] => [
  ...by.map(
    (dimension, i): LongColumn<GroupedLine> => ({
      key: dimension,
      head: DIMENSIONS[dimension].charAt(0).toUpperCase() + DIMENSIONS[dimension].slice(1),
      kind: i === 0 ? 'head' : undefined,
      cell: (line) => {
        const href = i === 0 ? repairsOf(line) : undefined;
        const name = keyWords(line.keys[i]!);
        return href === undefined ? (
          name
        ) : (
          <a href={href}>
            {name}
            <span className="unseen">: repairs of {nameOf(line)}</span>
          </a>
        );
      },
    }),
  ),
  { key: 'chance', head: 'Chance', kind: 'number', cell: ({ probability }) => <strong>{percent(probability)}</strong> },
  { key: 'interval', head: '95 % interval', kind: 'number', cell: ({ low, high }) => `${percent(low)} to ${percent(high)}` },
  { key: 'own', head: 'Own figure', kind: 'number', cell: ({ observed }) => (observed === null ? '–' : percent(observed)) },
  {
    key: 'returns',
    head: 'Returns',
    kind: 'number',
    cell: ({ returns, episodes }) => `${count(returns)} of ${count(episodes)}`,
  },
  { key: 'shops', head: 'Shops', kind: 'number', cell: ({ shops }) => count(shops) },
  { key: 'borrowed', head: 'Borrowed', kind: 'number', cell: ({ borrowed }) => percent(borrowed) },
  { key: 'linked', head: 'Followed', kind: 'number', cell: ({ linkedShare }) => percent(linkedShare) },
];

function saveLines({ lines, by, clock, horizon }: GroupedReturns): void {
  downloadCsv(
    `returns-by-${by.join('-')}`,
    [
      ...by,
      `probability within ${decimal(horizon)} ${CLOCK_UNITS[clock].full}`,
      'low',
      'high',
      'observed',
      'returns',
      'repairs',
      'shops',
      'borrowed',
      'linked',
    ],
    lines.map((line) => [
      ...line.keys.map(keyWords),
      line.probability,
      line.low,
      line.high,
      line.observed,
      line.returns,
      line.episodes,
      line.shops,
      line.borrowed,
      line.linkedShare,
    ]),
  );
}
