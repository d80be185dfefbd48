import { type ComponentType, lazy } from 'react';
import { PageNav } from '../shell/page-nav.tsx';
import { Nothing } from '../shell/states.tsx';
import { Overview } from './overview.tsx';

const Imports = lazy(() => import('./imports.tsx').then(({ Imports }) => ({ default: Imports })));
const ImportPage = lazy(() => import('./import-page.tsx').then(({ ImportPage }) => ({ default: ImportPage })));
const Mappings = lazy(() => import('./mappings.tsx').then(({ Mappings }) => ({ default: Mappings })));
const Webhooks = lazy(() => import('./webhooks.tsx').then(({ Webhooks }) => ({ default: Webhooks })));
const Deliveries = lazy(() => import('./deliveries.tsx').then(({ Deliveries }) => ({ default: Deliveries })));
const Keys = lazy(() => import('./keys.tsx').then(({ Keys }) => ({ default: Keys })));
const Trail = lazy(() => import('./trail.tsx').then(({ Trail }) => ({ default: Trail })));

const PARTS = [
  { path: '/feeds', name: 'Push a case' },
  { path: '/feeds/imports', name: 'Imports' },
  { path: '/feeds/mappings', name: 'Mappings' },
  { path: '/feeds/webhooks', name: 'Webhooks' },
  { path: '/feeds/keys', name: 'Keys and their use' },
  { path: '/feeds/trail', name: 'Who did what' },
];

const PAGES: Readonly<Record<string, ComponentType>> = {
  imports: Imports,
  mappings: Mappings,
  webhooks: Webhooks,
  keys: Keys,
  trail: Trail,
};
/** Pages of one thing, by the list it stands in. */
const ONES: Readonly<Record<string, ComponentType<{ readonly id: string }>>> = { imports: ImportPage, webhooks: Deliveries };

/** The integrator's pages, beside the list of them. */
export function Feeds({ part, id }: { readonly part: string | undefined; readonly id: string | undefined }) {
  const One = part !== undefined && id !== undefined ? ONES[part] : undefined;
  const Named = part === undefined ? Overview : PAGES[part];
  return (
    <div className="with-nav">
      <PageNav label="Feeds" parts={PARTS} here={part === undefined ? '/feeds' : `/feeds/${part}`} />
      {One && id ? (
        <One key={id} id={id} />
      ) : Named && id === undefined ? (
        <Named />
      ) : (
        <div className="stack">
          <h1>Not here</h1>
          <Nothing title="There is no such page.">
            <a href="#/feeds">Go to the feeds</a>
          </Nothing>
        </div>
      )}
    </div>
  );
}
