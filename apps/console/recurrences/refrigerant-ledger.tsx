import type { Assessment, RefrigerantLedger, RefrigerantLedgerLine } from '../client/generated/api.ts';
import { useRefrigerantLedger } from '../client/outcome-queries.ts';
import { Forest } from '../plots/forest.tsx';
import { Answered } from '../shell/answered.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { Nothing } from '../shell/states.tsx';
import { decimal, plural, said, shortMonth, words } from '../shell/words.ts';
import { shopName } from './shop-name.ts';

interface Props {
  readonly since?: string;
  readonly until?: string;
  readonly assessment: Assessment;
}

/** Whether each shop's refrigerant adds up between its stock takes, within what its scales can err. */
export function LedgerPart({ since, until, assessment }: Props) {
  const ledger = useRefrigerantLedger({ ...(since ? { since } : {}), ...(until ? { until } : {}), assessment });
  return (
    <section className="sheet stack" aria-label="Does it add up?">
      <Answered query={ledger} what="the books">
        {(known) => <Ledger ledger={known} />}
      </Answered>
    </section>
  );
}

const nameOf = (line: RefrigerantLedgerLine) => `${shopName(line)}, ${line.refrigerant}, ${shortMonth(line.month)}`;
const kilograms = (grams: number | null) => (grams === null ? '–' : decimal(grams / 1000));

const COLUMNS: readonly LongColumn<RefrigerantLedgerLine>[] = [
  { key: 'month', head: 'Month', kind: 'date', cell: ({ month }) => shortMonth(month) },
  { key: 'shop', head: 'Shop', cell: shopName },
  { key: 'refrigerant', head: 'Refrigerant', cell: ({ refrigerant }) => refrigerant },
  { key: 'opening', head: 'Opening', kind: 'number', cell: ({ openingG }) => kilograms(openingG) },
  { key: 'bought', head: '+ bought', kind: 'number', cell: ({ boughtG }) => kilograms(boughtG) },
  { key: 'recovered', head: '+ recovered', kind: 'number', cell: ({ recoveredG }) => kilograms(recoveredG) },
  { key: 'charged', head: '− charged', kind: 'number', cell: ({ chargedG }) => kilograms(chargedG) },
  { key: 'sent', head: '− sent out', kind: 'number', cell: ({ sentOutG }) => kilograms(sentOutG) },
  { key: 'missing', head: '− missing', kind: 'number', cell: ({ unaccountedG }) => kilograms(unaccountedG) },
  { key: 'closing', head: '= closing', kind: 'number', cell: ({ closingG }) => kilograms(closingG) },
  { key: 'verdict', head: 'In words', cell: ({ verdict }) => words(verdict) },
];

function Ledger({ ledger }: { readonly ledger: RefrigerantLedger }) {
  const { lines } = ledger;
  const counted = lines.filter(({ unaccountedG }) => unaccountedG !== null);
  const kept = lines.filter(({ openingG, closingG }) => openingG !== null || closingG !== null);
  return (
    <>
      <div className="row spread">
        <h2>Does it add up?</h2>
        {lines.length === 0 ? null : (
          <button type="button" className="no-print small" onClick={() => saveLedger(ledger)}>
            CSV of the books
          </button>
        )}
      </div>
      <p>{said(ledger.message)}</p>
      {counted.length === 0 ? (
        <Nothing title="No two stock takes to compare yet.">
          <a href="#/recurrences/stock">Enter cylinders, purchases, shipments and stock takes</a>; what is missing shows between two stock
          takes.
        </Nothing>
      ) : (
        <Forest
          title="What stock takes found missing"
          words="Missing mass, with the 95 % limit of what the scales can err when errors of weighing are independent; below zero: too much was found."
          file="refrigerant-missing"
          label="missing, kg"
          rows={counted.map((line) => ({
            key: `${line.month} ${line.shopId} ${line.refrigerant}`,
            name: nameOf(line),
            point: line.unaccountedG! / 1000,
            low: line.errorG === null ? null : (line.unaccountedG! - line.errorG) / 1000,
            high: line.errorG === null ? null : (line.unaccountedG! + line.errorG) / 1000,
            stands: plural(line.weighings, 'weighing'),
            strong: line.errorG !== null && Math.abs(line.unaccountedG!) > line.errorG,
            further: [line.co2eKg, said(line.message)],
          }))}
          show={decimal}
          marks={[{ at: 0, name: 'adds up' }]}
          furtherColumns={[{ name: `CO₂ equivalent, kg (${ledger.assessment})`, show: decimal }, { name: 'in words' }]}
        />
      )}
      {kept.length === 0 ? null : (
        <LongTable
          caption={`The books, kg; newest month first.${
            kept.length < lines.length
              ? ` ${plural(lines.length - kept.length, 'line')} from before the first stock take of a shop are in the CSV alone.`
              : ''
          }`}
          rows={kept}
          rowKey={(line) => `${line.month} ${line.shopId} ${line.shopName} ${line.refrigerant}`}
          rowHeight={37}
          columns={COLUMNS}
        />
      )}
      <details>
        <summary>What the books count</summary>
        <ul>
          {[...ledger.cautions, ...ledger.definitions].map((one) => (
            <li key={one}>{said(one)}</li>
          ))}
        </ul>
      </details>
    </>
  );
}

function saveLedger({ lines, assessment }: RefrigerantLedger): void {
  downloadCsv(
    'refrigerant-ledger',
    [
      'month',
      'shop',
      'refrigerant',
      'opening, g',
      'bought, g',
      'recovered, g',
      'charged, g',
      'sent out, g',
      'unaccounted, g',
      'error, g',
      'closing, g',
      `CO2 equivalent (${assessment}), kg`,
      'verdict',
    ],
    lines.map((line) => [
      line.month,
      shopName(line),
      line.refrigerant,
      line.openingG,
      line.boughtG,
      line.recoveredG,
      line.chargedG,
      line.sentOutG,
      line.unaccountedG,
      line.errorG,
      line.closingG,
      line.co2eKg,
      line.verdict,
    ]),
  );
}
