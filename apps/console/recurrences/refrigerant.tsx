import type { ReactNode } from 'react';
import type { RefrigerantBalance, RefrigerantLine } from '../client/generated/api.ts';
import { assessmentValues } from '../client/generated/api.ts';
import { useRefrigerant } from '../client/outcome-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { count, decimal, monthWords, plural, said, shortMonth } from '../shell/words.ts';
import { known, PeriodFilters, periodOf } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { monthBounds } from './month-bounds.ts';
import { LedgerPart } from './refrigerant-ledger.tsx';
import { RefrigerantMonths } from './refrigerant-months.tsx';
import { shopName } from './shop-name.ts';

const PATH = '/recurrences/refrigerant';

/** What refrigerant went where, by shop and month, and what that is in CO2. */
export function Refrigerant({ search }: { readonly search: URLSearchParams }) {
  const { since, until } = periodOf(search);
  const assessment = known(search.get('report'), assessmentValues) ?? 'AR4';
  const query = useRefrigerant({ ...(since ? { since } : {}), ...(until ? { until } : {}), assessment });
  return (
    <div className="stack">
      <div className="stack tight">
        <h1>Refrigerant</h1>
        <p className="lead">{said(query.data?.message ?? 'Refrigerant recovered and charged, by shop and month.')}</p>
      </div>
      <PeriodFilters path={PATH} search={search} faults={false}>
        <Choice
          label="CO₂ equivalent by"
          value={assessment}
          options={assessmentValues.map((code) => [code, `IPCC ${code}, 100 years`] as const)}
          none={null}
          change={(value) => goTo(address(PATH, { ...Object.fromEntries(search), report: value }))}
        />
      </PeriodFilters>
      <Answered query={query} what="the refrigerant">
        {(balance) => (
          <Balance balance={balance}>
            <LedgerPart since={since} until={until} assessment={assessment} />
          </Balance>
        )}
      </Answered>
    </div>
  );
}

interface BalanceProps {
  readonly balance: RefrigerantBalance;
  /** The books: before the list of every shop and month, which is long. */
  readonly children: ReactNode;
}

function Balance({ balance, children }: BalanceProps) {
  if (balance.lines.length === 0) {
    return (
      <>
        <Nothing title="No refrigerant was handled in this period.">
          Record recovered and charged weights with the repairs, or ask for a longer period.
        </Nothing>
        {children}
      </>
    );
  }
  return (
    <>
      <section className="sheet" aria-label="Month by month">
        <RefrigerantMonths balance={balance} />
      </section>
      {children}
      <section className="sheet stack" aria-label="Shop by shop">
        <div className="row spread">
          <h2>Shop and month</h2>
          <button type="button" className="no-print" onClick={() => saveBalance(balance)}>
            CSV of shops and months
          </button>
        </div>
        <LongTable
          caption={`${plural(balance.lines.length, 'line')}, newest month first. Net is charged less recovered.`}
          rows={balance.lines}
          rowKey={(line) => `${line.month} ${line.shopId} ${line.refrigerant}`}
          rowHeight={37}
          columns={COLUMNS}
        />
        {balance.withheld === 0 ? null : <p className="quiet">{plural(balance.withheld, 'line')} more are too few to be shown unnamed.</p>}
      </section>
      <Fineprint cautions={balance.cautions} definitions={balance.definitions} />
    </>
  );
}

const COLUMNS: readonly LongColumn<RefrigerantLine>[] = [
  { key: 'month', head: 'Month', kind: 'date', cell: ({ month }) => shortMonth(month) },
  {
    key: 'shop',
    head: 'Shop',
    cell: (line) =>
      line.shopId === null ? (
        shopName(line)
      ) : (
        <a href={address('/recurrences/repairs', { shop: line.shopId, since: `${line.month}-01`, until: monthBounds(line.month).until })}>
          {shopName(line)}
          <span className="unseen">, repairs of {monthWords(line.month)}</span>
        </a>
      ),
  },
  { key: 'refrigerant', head: 'Refrigerant', cell: ({ refrigerant }) => refrigerant ?? 'platform not known' },
  { key: 'repairs', head: 'Repairs', kind: 'number', cell: ({ repairs }) => count(repairs) },
  { key: 'unweighed', head: 'Not weighed', kind: 'number', cell: ({ unweighed }) => (unweighed === 0 ? '–' : count(unweighed)) },
  { key: 'recovered', head: 'Recovered, kg', kind: 'number', cell: ({ recoveredG }) => decimal(recoveredG / 1000) },
  { key: 'charged', head: 'Charged, kg', kind: 'number', cell: ({ chargedG }) => decimal(chargedG / 1000) },
  { key: 'net', head: 'Net, kg', kind: 'number', cell: ({ netG }) => decimal(netG / 1000) },
  { key: 'co2e', head: 'CO₂ equivalent, t', kind: 'number', cell: ({ co2eKg }) => (co2eKg === null ? '–' : decimal(co2eKg / 1000)) },
];

function saveBalance({ lines, assessment }: RefrigerantBalance): void {
  downloadCsv(
    'refrigerant',
    [
      'month',
      'shop',
      'refrigerant',
      'repairs',
      'not weighed',
      'recovered, g',
      'charged, g',
      'net, g',
      `CO2 equivalent (${assessment}), kg`,
    ],
    lines.map((line) => [
      line.month,
      shopName(line),
      line.refrigerant,
      line.repairs,
      line.unweighed,
      line.recoveredG,
      line.chargedG,
      line.netG,
      line.co2eKg,
    ]),
  );
}
