import { type ComponentType, lazy } from 'react';
import { PageNav } from '../shell/page-nav.tsx';
import { Nothing } from '../shell/states.tsx';
import { ShopList } from './shop-list.tsx';

const ShopPage = lazy(() => import('./shop-page.tsx').then(({ ShopPage }) => ({ default: ShopPage })));
const PlatformList = lazy(() => import('./platform-list.tsx').then(({ PlatformList }) => ({ default: PlatformList })));
const PlatformPage = lazy(() => import('./platform-page.tsx').then(({ PlatformPage }) => ({ default: PlatformPage })));
const Members = lazy(() => import('./members.tsx').then(({ Members }) => ({ default: Members })));
const Leaving = lazy(() => import('./leaving.tsx').then(({ Leaving }) => ({ default: Leaving })));
const Engine = lazy(() => import('./engine.tsx').then(({ Engine }) => ({ default: Engine })));

const PARTS = [
  { path: '/settings', name: 'Shops' },
  { path: '/settings/platforms', name: 'Platforms' },
  { path: '/settings/members', name: 'Members' },
  { path: '/feeds/keys', name: 'Keys' },
  { path: '/recurrences/policies', name: 'Policies' },
  { path: '/settings/leaving', name: 'Export and deletion' },
  { path: '/settings/engine', name: 'The engine' },
];

const PAGES: Readonly<Record<string, ComponentType<{ readonly search: URLSearchParams }>>> = {
  platforms: PlatformList,
  members: Members,
  leaving: Leaving,
  engine: Engine,
};
/** Pages of one thing, by the list it stands in; `new` makes one. */
const ONES: Readonly<Record<string, ComponentType<{ readonly id: string }>>> = { shops: ShopPage, platforms: PlatformPage };

interface Props {
  readonly part: string | undefined;
  readonly id: string | undefined;
  readonly search: URLSearchParams;
}

/** The administrator's pages, beside the list of them. */
export function Settings({ part, id, search }: Props) {
  const One = part !== undefined && id !== undefined ? ONES[part] : undefined;
  const Named = part === undefined ? ShopList : id === undefined ? PAGES[part] : undefined;
  return (
    <div className="with-nav">
      <PageNav label="Settings" parts={PARTS} here={part === undefined || part === 'shops' ? '/settings' : `/settings/${part}`} />
      {One && id ? (
        <One key={id} id={id} />
      ) : Named ? (
        <Named search={search} />
      ) : (
        <div className="stack">
          <h1>Not here</h1>
          <Nothing title="There is no such page.">
            <a href="#/settings">Go to the settings</a>
          </Nothing>
        </div>
      )}
    </div>
  );
}
