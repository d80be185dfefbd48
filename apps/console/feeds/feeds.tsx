import { opened, type PageProps, type Pages, Section } from '../shell/section.tsx';
import { Overview } from './overview.tsx';

const PAGES: Pages<'feeds'> = {
  '': Overview,
  imports: opened(() => import('./imports.tsx'), 'Imports'),
  'imports/:id': opened(() => import('./import-page.tsx'), 'ImportPage'),
  mappings: opened(() => import('./mappings.tsx'), 'Mappings'),
  webhooks: opened(() => import('./webhooks.tsx'), 'Webhooks'),
  'webhooks/:id': opened(() => import('./deliveries.tsx'), 'Deliveries'),
  keys: opened(() => import('./keys.tsx'), 'Keys'),
  trail: opened(() => import('./trail.tsx'), 'Trail'),
};

/** The integrator's pages. */
export function Feeds(props: PageProps & { readonly part: string }) {
  return <Section section="feeds" pages={PAGES} {...props} />;
}
