import { type ComponentType, lazy } from 'react';
import { PageNav } from '../shell/page-nav.tsx';
import { Nothing } from '../shell/states.tsx';
import { Board } from './board.tsx';
import { SavedViews } from './saved-views.tsx';

type Part = ComponentType<{ readonly search: URLSearchParams }>;

const Line = lazy(() => import('./line.tsx').then(({ Line }) => ({ default: Line })));
const Patterns = lazy(() => import('./patterns.tsx').then(({ Patterns }) => ({ default: Patterns })));
const Watches = lazy(() => import('./watches.tsx').then(({ Watches }) => ({ default: Watches })));
const Shops = lazy(() => import('./shops.tsx').then(({ Shops }) => ({ default: Shops })));
const Records = lazy(() => import('./records.tsx').then(({ Records }) => ({ default: Records })));
const Charge = lazy(() => import('./charge.tsx').then(({ Charge }) => ({ default: Charge })));
const Refrigerant = lazy(() => import('./refrigerant.tsx').then(({ Refrigerant }) => ({ default: Refrigerant })));
const Costs = lazy(() => import('./costs.tsx').then(({ Costs }) => ({ default: Costs })));
const Policies = lazy(() => import('./policies.tsx').then(({ Policies }) => ({ default: Policies })));
const Month = lazy(() => import('./month.tsx').then(({ Month }) => ({ default: Month })));
const Grouped = lazy(() => import('./grouped.tsx').then(({ Grouped }) => ({ default: Grouped })));
const Stock = lazy(() => import('./stock.tsx').then(({ Stock }) => ({ default: Stock })));
const Repairs = lazy(() => import('./repairs.tsx').then(({ Repairs }) => ({ default: Repairs })));
const Cases = lazy(() => import('./cases.tsx').then(({ Cases }) => ({ default: Cases })));

const PARTS: readonly { readonly path: string; readonly name: string }[] = [
  { path: '/recurrences', name: 'What comes back' },
  { path: '/recurrences/grouped', name: 'Told apart' },
  { path: '/recurrences/patterns', name: 'One fault after another' },
  { path: '/recurrences/watches', name: 'What is new' },
  { path: '/recurrences/shops', name: 'Shops' },
  { path: '/recurrences/records', name: 'Evidence' },
  { path: '/recurrences/charge', name: 'Charge' },
  { path: '/recurrences/refrigerant', name: 'Refrigerant' },
  { path: '/recurrences/stock', name: 'Stock' },
  { path: '/recurrences/costs', name: 'Costs of returns' },
  { path: '/recurrences/policies', name: 'Policies' },
  { path: '/recurrences/month', name: 'The month' },
];

/** Parts reached from a figure, not from the list beside the page. */
const PAGES: Readonly<Record<string, Part>> = {
  line: Line,
  patterns: Patterns,
  watches: Watches,
  shops: Shops,
  records: Records,
  charge: Charge,
  refrigerant: Refrigerant,
  grouped: Grouped,
  stock: Stock,
  costs: Costs,
  policies: Policies,
  month: Month,
  repairs: Repairs,
  cases: Cases,
};

/** The director's pages, beside the list of them. */
export function Recurrences({ part, search }: { readonly part: string | undefined; readonly search: URLSearchParams }) {
  const here = part === undefined || part === 'line' ? '/recurrences' : `/recurrences/${part}`;
  const Named = part === undefined ? Board : PAGES[part];
  return (
    <div className="with-nav">
      <PageNav label="Recurrences" parts={PARTS} here={here}>
        <SavedViews />
      </PageNav>
      {Named ? (
        <Named search={search} />
      ) : (
        <div className="stack">
          <h1>Not here</h1>
          <Nothing title="There is no such page.">
            <a href="#/recurrences">Go to what comes back</a>
          </Nothing>
        </div>
      )}
    </div>
  );
}
