import { opened, type PageProps, type Pages, Section } from '../shell/section.tsx';
import { Board } from './board.tsx';
import { SavedViews } from './saved-views.tsx';

const PAGES: Pages<'recurrences'> = {
  '': Board,
  line: opened(() => import('./line.tsx'), 'Line'),
  patterns: opened(() => import('./patterns.tsx'), 'Patterns'),
  watches: opened(() => import('./watches.tsx'), 'Watches'),
  shops: opened(() => import('./shops.tsx'), 'Shops'),
  records: opened(() => import('./records.tsx'), 'Records'),
  charge: opened(() => import('./charge.tsx'), 'Charge'),
  refrigerant: opened(() => import('./refrigerant.tsx'), 'Refrigerant'),
  grouped: opened(() => import('./grouped.tsx'), 'Grouped'),
  stock: opened(() => import('./stock.tsx'), 'Stock'),
  costs: opened(() => import('./costs.tsx'), 'Costs'),
  policies: opened(() => import('./policies.tsx'), 'Policies'),
  month: opened(() => import('./month.tsx'), 'Month'),
  repairs: opened(() => import('./repairs.tsx'), 'Repairs'),
  cases: opened(() => import('./cases.tsx'), 'Cases'),
};

/** The director's pages. */
export function Recurrences(props: PageProps & { readonly part: string }) {
  return <Section section="recurrences" pages={PAGES} beside={<SavedViews />} {...props} />;
}
