/**
 * Keeps the console's own files, so that it opens where no server answers. Files of this build and nothing else: requests to the service are not
 * touched, so no answer, and nothing about anybody, is ever kept here. The build writes which files and under which name.
 */
declare const FILES: readonly string[];
declare const BUILD: string;

/** Part of a worker's surroundings that is used here; the page's typings, which the console is checked with, lack it. */
interface Surroundings {
  addEventListener(kind: 'install' | 'activate', heard: (event: { waitUntil(work: Promise<unknown>): void }) => void): void;
  addEventListener(
    kind: 'fetch',
    heard: (event: { readonly request: Request; respondWith(answer: Promise<Response>): void }) => void,
  ): void;
  skipWaiting(): Promise<void>;
  readonly location: { readonly origin: string };
}
const surroundings = globalThis as unknown as Surroundings;
const PREFIX = 'coolback-console-';
const NAME = `${PREFIX}${BUILD}`;
const PAGE = '/';

surroundings.addEventListener('install', (event) => {
  event.waitUntil(
    caches
      .open(NAME)
      .then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: 'reload' }))))
      .then(() => surroundings.skipWaiting()),
  );
});

surroundings.addEventListener('activate', (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter((name) => name.startsWith(PREFIX) && name !== NAME).map((name) => caches.delete(name)))),
  );
});

surroundings.addEventListener('fetch', (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== 'GET' || origin !== surroundings.location.origin) return;
  const kept = (path: string) => caches.open(NAME).then((cache) => cache.match(path));
  // The page is asked for anew, so that a newer build is seen at once; its files carry their content in their names.
  if (pathname === PAGE) event.respondWith(fetch(request).catch(async (error) => (await kept(PAGE)) ?? Promise.reject(error)));
  else if (FILES.includes(pathname)) event.respondWith(kept(pathname).then((found) => found ?? fetch(request)));
});
