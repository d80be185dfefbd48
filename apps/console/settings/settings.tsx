import { opened, type PageProps, type Pages, Section } from '../shell/section.tsx';
import { ShopList } from './shop-list.tsx';

const ALSO = [
  { path: '/feeds/keys', name: 'Keys' },
  { path: '/recurrences/policies', name: 'Policies' },
];

/** Of one thing, `new` makes one. */
const PAGES: Pages<'settings'> = {
  '': ShopList,
  'shops/:id': opened(() => import('./shop-page.tsx'), 'ShopPage'),
  platforms: opened(() => import('./platform-list.tsx'), 'PlatformList'),
  'platforms/:id': opened(() => import('./platform-page.tsx'), 'PlatformPage'),
  returns: opened(() => import('./return-rules.tsx'), 'ReturnRules'),
  members: opened(() => import('./members.tsx'), 'Members'),
  leaving: opened(() => import('./leaving.tsx'), 'Leaving'),
  engine: opened(() => import('./engine.tsx'), 'Engine'),
};

/** The administrator's pages. */
export function Settings(props: PageProps & { readonly part: string }) {
  return <Section section="settings" pages={PAGES} also={ALSO} {...props} />;
}
