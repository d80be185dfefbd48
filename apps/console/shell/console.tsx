import { Suspense, useEffect, useRef } from 'react';
import { type Access, changeKey, useAccess } from '../client/key.ts';
import { useMe, useSession, useTasks } from '../client/queries.ts';
import { Landing } from '../landing/landing.tsx';
import { PLACES, placeOf, type SectionName } from './places.ts';
import { type Route, useRoute } from './route.ts';
import { NotHere, opened, type Page, PageOf, type PageProps, type Pages } from './section.tsx';
import { SharedDevice, SignOut } from './shared-device.tsx';
import { NeedsKey, Waiting } from './states.tsx';
import { ThemeSwitch } from './theme.tsx';
import { count, words } from './words.ts';

type PageInPart = Page<PageProps & { readonly part: string }>;

const BAY: Pages<'bay'> = {
  '': opened(() => import('../bay/bay.tsx'), 'Bay'),
  'case/:id': opened(() => import('../bay/case-page.tsx'), 'CasePage'),
  'vehicle/:id': opened(() => import('../bay/vehicle-page.tsx'), 'VehiclePage'),
  offer: opened(() => import('../bay/offer-page.tsx'), 'OfferPage'),
};
const SECTIONS: Readonly<Record<SectionName, PageInPart>> = {
  bay: (props) => <PageOf section="bay" pages={BAY} {...props} />,
  recurrences: opened(() => import('../recurrences/recurrences.tsx'), 'Recurrences'),
  feeds: opened(() => import('../feeds/feeds.tsx'), 'Feeds'),
  settings: opened(() => import('../settings/settings.tsx'), 'Settings'),
};
const NAMES = Object.entries(PLACES).map(([section, { name }]) => ({ path: `/${section}`, name }));

/** The frame around every page. */
export function Console() {
  const route = useRoute();
  const access = useAccess();
  const main = useRef<HTMLElement>(null);
  const before = useRef(route.path);
  useEffect(() => {
    const page = NAMES.find(({ path }) => route.path.startsWith(path));
    document.title = page ? `${page.name} · Coolback` : 'Coolback';
    // A new page is read from its top; changed filters of the same page are not a new page.
    if (before.current !== route.path) {
      before.current = route.path;
      window.scrollTo(0, 0);
      main.current?.focus();
    }
  }, [route.path]);
  return (
    <>
      <button type="button" className="skip" onClick={() => main.current?.focus()}>
        Skip to the page
      </button>
      <header className="masthead">
        <a className="name" href="#/">
          <img src="/mark.svg" alt="" width="28" height="28" /> Coolback
        </a>
        <nav aria-label="Pages">
          {NAMES.map(({ path, name }) => (
            <a key={path} href={`#${path}`} aria-current={route.path.startsWith(path) ? 'page' : undefined}>
              {name}
            </a>
          ))}
        </nav>
        <Who />
        <ThemeSwitch />
      </header>
      {access === null ? null : <LoadingBanner />}
      <main className="page" id="page" tabIndex={-1} ref={main}>
        <Suspense fallback={<Waiting what="this page" />}>
          <PageAt route={route} access={access} />
        </Suspense>
      </main>
    </>
  );
}

function PageAt({ route: { path, search }, access }: { readonly route: Route; readonly access: Access | null }) {
  if (path === '/') return <Landing />;
  const place = placeOf(path);
  if (place === null) return <NotHere href="#/" to="the first page" />;
  const { name } = PLACES[place.section];
  if (access === null) {
    return (
      <div className="stack">
        <h1>{name}</h1>
        <NeedsKey page={name} />
      </div>
    );
  }
  const View = SECTIONS[place.section];
  const view = <View part={place.part} id={place.id} search={search} />;
  return access === 'shared-device' ? <SharedDevice>{view}</SharedDevice> : view;
}

function Who() {
  const access = useAccess();
  const { data: me } = useMe();
  const { data: session } = useSession();
  if (access === null) return null;
  if (access === 'shared-device') return <span className="who">{session?.person ? <SignOut person={session.person} /> : null}</span>;
  return (
    <span className="who">
      <span>{me ? `${words(me.role)}, ${me.organisationName}` : ''}</span>
      <button type="button" onClick={() => changeKey(null)}>
        Put key away
      </button>
    </span>
  );
}

/** While the worker still loads cases, figures grow: that is said on every page. */
function LoadingBanner() {
  const { data: me } = useMe();
  const { data } = useTasks(me?.permissions.includes('shops:read') ?? false);
  const task = data?.data.find(({ state }) => state === 'running' || state === 'waiting');
  if (!task) return null;
  return (
    <div className="banner" role="status">
      <label htmlFor="load">{task.kind === 'demo.load' ? 'The demo region is still being loaded' : 'The worker is busy'}</label>
      {task.total <= 1 ? <progress id="load" /> : <progress id="load" max={task.total} value={task.done} />}
      <span>
        {task.total <= 1 ? '' : `${count(task.done)} of ${count(task.total)} cases. `}Every page works already; figures still grow.
      </span>
    </div>
  );
}
