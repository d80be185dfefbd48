import { lazy, Suspense, useEffect, useRef } from 'react';
import { type Access, changeKey, useAccess } from '../client/key.ts';
import { useMe, useSession, useTasks } from '../client/queries.ts';
import { Landing } from '../landing/landing.tsx';
import { type Route, useRoute } from './route.ts';
import { SharedDevice, SignOut } from './shared-device.tsx';
import { NeedsKey, Nothing, Waiting } from './states.tsx';
import { ThemeSwitch } from './theme.tsx';
import { count, words } from './words.ts';

const Bay = lazy(() => import('../bay/bay.tsx').then(({ Bay }) => ({ default: Bay })));
const CasePage = lazy(() => import('../bay/case-page.tsx').then(({ CasePage }) => ({ default: CasePage })));
const VehiclePage = lazy(() => import('../bay/vehicle-page.tsx').then(({ VehiclePage }) => ({ default: VehiclePage })));
const OfferPage = lazy(() => import('../bay/offer-page.tsx').then(({ OfferPage }) => ({ default: OfferPage })));
const Feeds = lazy(() => import('../feeds/feeds.tsx').then(({ Feeds }) => ({ default: Feeds })));
const Settings = lazy(() => import('../settings/settings.tsx').then(({ Settings }) => ({ default: Settings })));
const Recurrences = lazy(() => import('../recurrences/recurrences.tsx').then(({ Recurrences }) => ({ default: Recurrences })));

const PAGES = [
  { path: '/bay', name: 'The bay' },
  { path: '/recurrences', name: 'Recurrences' },
  { path: '/feeds', name: 'Feeds' },
  { path: '/settings', name: 'Settings' },
] as const;

/** The frame around every page. */
export function Console() {
  const route = useRoute();
  const access = useAccess();
  const main = useRef<HTMLElement>(null);
  const before = useRef(route.path);
  useEffect(() => {
    const page = PAGES.find(({ path }) => route.path.startsWith(path));
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
          {PAGES.map(({ path, name }) => (
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
          <Page route={route} access={access} />
        </Suspense>
      </main>
    </>
  );
}

function Page({ route: { path, search }, access }: { readonly route: Route; readonly access: Access | null }) {
  if (path === '/') return <Landing />;
  const [, page, part, id] = path.split('/');
  const named = PAGES.find((one) => one.path === `/${page}`);
  if (!named) {
    return (
      <div className="stack">
        <h1>Not here</h1>
        <Nothing title="There is no such page.">
          <a href="#/">Go to the first page</a>
        </Nothing>
      </div>
    );
  }
  if (access === null) {
    return (
      <div className="stack">
        <h1>{named.name}</h1>
        <NeedsKey page={named.name} />
      </div>
    );
  }
  const view = <View page={named.path} part={part} id={id} search={search} />;
  return access === 'shared-device' ? <SharedDevice>{view}</SharedDevice> : view;
}

interface ViewProps {
  readonly page: (typeof PAGES)[number]['path'];
  readonly part: string | undefined;
  readonly id: string | undefined;
  readonly search: URLSearchParams;
}

function View({ page, part, id, search }: ViewProps) {
  if (page === '/recurrences') return <Recurrences part={part} search={search} />;
  if (page === '/settings') return <Settings part={part} id={id} search={search} />;
  if (page === '/feeds') return <Feeds part={part} id={id} />;
  if (part === 'case' && id) return <CasePage key={id} id={id} />;
  if (part === 'vehicle' && id) return <VehiclePage key={id} id={id} />;
  if (part === 'offer') return <OfferPage search={search} />;
  return <Bay search={search} />;
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
      <progress id="load" max={task.total} value={task.done} />
      <span>
        {count(task.done)} of {count(task.total)} cases. Every page works already; figures still grow.
      </span>
    </div>
  );
}
