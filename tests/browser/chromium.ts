import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type BrowserContext, chromium, type Page } from 'playwright-core';
import { consoleDirectory } from '#apps/api/docs/docs.js';

const EXECUTABLE = process.env['COOLBACK_CHROMIUM'] ?? '/usr/bin/chromium';
const FLAGS = [
  '--headless',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];
const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** A browser of its own, of the size a small shop screen has, that reaches one server and nothing else. */
export interface Browser {
  /** `offlineToo` lets the console keep its own files: its worker would hide requests from a test that listens to them. */
  open(options?: { theme?: 'light' | 'dark'; key?: string; offlineToo?: boolean }): Promise<Visit>;
  close(): Promise<void>;
}

export interface Visit {
  readonly page: Page;
  /** Everything that went wrong since the last call: console errors, failed or refused requests, requests to other hosts. */
  troubles(): string[];
  go(hash: string): Promise<void>;
  /** axe-core's violations on the page as it stands. */
  violations(): Promise<string[]>;
  /** The same in both themes: every rule in light, and in dark those that colours decide. Leaves the page in light. */
  violationsInBothThemes(): Promise<string[]>;
  close(): Promise<void>;
}

export async function startBrowser(url: string, flags: readonly string[] = []): Promise<Browser> {
  if (!existsSync(join(consoleDirectory(), 'index.html'))) throw new Error('the console is not built: npm run build:console');
  if (!existsSync(EXECUTABLE)) throw new Error(`there is no ${EXECUTABLE}: apt-get install chromium, or name one in COOLBACK_CHROMIUM`);
  const profile = mkdtempSync(join(tmpdir(), 'coolback-browser-'));
  const started = await chromium.launch({
    executablePath: EXECUTABLE,
    args: [...FLAGS, ...flags],
    env: { ...process.env, HOME: profile } as Record<string, string>,
  });
  return {
    open: async ({ theme = 'light', key, offlineToo = false } = {}) => {
      const context = await started.newContext({
        viewport: { width: 1366, height: 768 },
        colorScheme: theme,
        acceptDownloads: true,
        serviceWorkers: offlineToo ? 'allow' : 'block',
      });
      if (key !== undefined) await context.addInitScript(`sessionStorage.setItem('coolback.key', ${JSON.stringify(key)})`);
      return visit(context, await context.newPage(), url);
    },
    close: async () => {
      await started.close();
      rmSync(profile, { recursive: true, force: true });
    },
  };
}

/** How long anything may take before it is said not to come: a machine that does other work is slow. */
export const PATIENCE_MS = 60_000;

async function visit(context: BrowserContext, page: Page, url: string): Promise<Visit> {
  page.setDefaultTimeout(PATIENCE_MS);
  let seen: string[] = [];
  // A busy service says 503 and when to ask again, and the console does: only one that was not answered after all is a trouble.
  const unanswered = new Map<string, string[]>();
  const note = (about: string, trouble: string) => {
    const waiting = unanswered.get(about);
    if (waiting) waiting.push(trouble);
    else seen.push(trouble);
  };
  page.on('console', (message) => {
    if (message.type() === 'error') note(message.location().url, `console: ${message.text()}`);
  });
  page.on('pageerror', (error) => seen.push(`script: ${error.message}`));
  // ERR_ABORTED is the page's own doing: it was left, or it no longer wants the answer. A server that is not there, or breaks off, says otherwise.
  page.on('requestfailed', (request) => {
    const cause = request.failure()?.errorText;
    if (cause !== 'net::ERR_ABORTED') seen.push(`failed: ${request.url()} ${cause}`);
  });
  page.on('response', (response) => {
    if (response.status() === 503 && !unanswered.has(response.url())) unanswered.set(response.url(), []);
    if (response.ok()) unanswered.delete(response.url());
    if (response.status() >= 400) note(response.url(), `status ${response.status()}: ${response.url()}`);
  });
  await context.route(
    (target) => !target.href.startsWith(url) && !target.href.startsWith('blob:') && !target.href.startsWith('data:'),
    async (route) => {
      seen.push(`another host: ${route.request().url()}`);
      await route.abort();
    },
  );
  return {
    page,
    troubles: () => {
      const taken = [...seen, ...[...unanswered.values()].flat()];
      seen = [];
      unanswered.clear();
      return taken;
    },
    go: async (hash) => {
      await page.goto(`${url}/${hash}`);
    },
    violations: () => axe(page, EVERY_RULE),
    violationsInBothThemes: async () => {
      const found: string[] = [];
      for (const [theme, rules] of [
        ['dark', OF_COLOURS],
        ['light', EVERY_RULE],
      ] as const) {
        await page.emulateMedia({ colorScheme: theme });
        found.push(...(await axe(page, rules)).map((one) => `${theme}: ${one}`));
      }
      return found;
    },
    close: () => context.close(),
  };
}

const EVERY_RULE = {};
const OF_COLOURS = { runOnly: ['color-contrast', 'link-in-text-block'] };

async function axe(page: Page, rules: object): Promise<string[]> {
  await page.waitForLoadState('networkidle');
  return page.evaluate(
    async ([source, asked]) => {
      const scope = globalThis as unknown as {
        axe?: {
          run(rules: object): Promise<{ violations: { id: string; nodes: { target: string[]; failureSummary?: string }[] }[] }>;
        };
        eval(code: string): void;
      };
      if (scope.axe === undefined) scope.eval(source);
      const { violations } = await scope.axe!.run(asked);
      return violations.map(
        ({ id, nodes }) => `${id}: ${nodes.map(({ target, failureSummary }) => `${target.join(' ')} ${failureSummary}`).join('; ')}`,
      );
    },
    [AXE, rules] as const,
  );
}
