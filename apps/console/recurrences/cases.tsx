import { useMemo } from 'react';
import type { CaseFilter, CaseSummary, Platform, Shop } from '../client/generated/api.ts';
import { caseStatusValues } from '../client/generated/api.ts';
import { useCases } from '../client/outcome-queries.ts';
import { usePlatforms, useShops } from '../client/queries.ts';
import { Choice } from '../shell/choice.tsx';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { day, inSentence, plural, words } from '../shell/words.ts';
import { Further, furtherOfCases } from './behind.tsx';
import { known, PeriodFilters, periodOf } from './filters.tsx';
import { ShopChoice } from './group-choices.tsx';

const PATH = '/recurrences/cases';

/** The cases behind a figure of records: which ones is in the address. */
export function Cases({ search }: { readonly search: URLSearchParams }) {
  const shops = useShops();
  const platforms = usePlatforms();
  const status = known(search.get('status'), caseStatusValues);
  const shopId = search.get('shop') ?? undefined;
  const { since, until, ...rest } = periodOf(search);
  const filter: CaseFilter = {
    ...rest,
    ...furtherOfCases(search),
    ...(since ? { since: `${since}T00:00:00Z` } : {}),
    ...(until ? { until: `${until}T00:00:00Z` } : {}),
    ...(status ? { status } : {}),
    ...(shopId ? { shopId } : {}),
  };
  const pages = useCases(filter);
  const columns = useMemo(() => columnsOf(shops.data ?? [], platforms.data ?? []), [shops.data, platforms.data]);
  const change = (part: Record<string, string>) => goTo(address(PATH, { ...Object.fromEntries(search), ...part }));
  return (
    <div className="stack">
      <h1>Cases</h1>
      <PeriodFilters path={PATH} search={search}>
        <ShopChoice value={shopId} change={(value) => change({ shop: value })} />
        <Choice
          label="State"
          value={status ?? ''}
          options={caseStatusValues.map((code) => [code, words(code)] as const)}
          none="every state"
          change={(value) => change({ status: value })}
        />
      </PeriodFilters>
      <Further path={PATH} search={search} of="cases" />
      <PagedList
        pages={pages}
        what="cases"
        label="Cases"
        nothing={
          <Nothing title="No such case.">
            <a href={`#${PATH}`}>Take every filter off</a>, or look at <a href="#/recurrences">what comes back</a>.
          </Nothing>
        }
        caption={(cases) => `${plural(cases.length, 'case')} so far, newest first.`}
        rowKey={({ id }) => id}
        columns={columns}
        rowHeight={37}
      />
    </div>
  );
}

const columnsOf = (shops: readonly Shop[], platforms: readonly Platform[]): readonly LongColumn<CaseSummary>[] => [
  { key: 'opened', head: 'Came in', kind: 'date', cell: ({ openedAt }) => day(openedAt) },
  { key: 'shop', head: 'Shop', cell: ({ shopId }) => shops.find(({ id }) => id === shopId)?.name ?? '' },
  { key: 'platform', head: 'Platform', cell: ({ platformId }) => platforms.find(({ id }) => id === platformId)?.name ?? '–' },
  { key: 'complaint', head: 'Complaint', cell: ({ complaint }) => words(complaint) },
  { key: 'status', head: 'State', cell: ({ status }) => words(status) },
  { key: 'fault', head: 'Read as', cell: ({ leadingFault }) => (leadingFault ? inSentence(leadingFault) : '–') },
  {
    key: 'open',
    head: 'Case',
    cell: ({ id, openedAt }) => (
      <a href={`#/bay/case/${id}`}>
        Open<span className="unseen"> the case of {day(openedAt)}</span>
      </a>
    ),
  },
];
