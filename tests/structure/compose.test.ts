import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from '@jest/globals';
import { parse } from 'yaml';
import { HEAP_FLAGS } from '#apps/cli/heap-flags.js';

interface Service {
  readonly image: string;
  readonly command?: readonly string[];
  readonly environment?: Readonly<Record<string, string>>;
  readonly depends_on?: Readonly<Record<string, { readonly condition: string }>>;
  readonly healthcheck?: { readonly test: readonly string[] };
  readonly ports?: readonly string[];
}
const text = readFileSync(join(process.cwd(), 'docker-compose.yml'), 'utf8');
const { services } = parse(text, { merge: true }) as { services: Readonly<Record<string, Service>> };
/** Names the code reads from its environment. */
const KNOWN = ['NODE_ENV', 'DATABASE_URL', 'DATABASE_OWNER_URL', 'DATABASE_QUEUE_URL', 'COOLBACK_SECRET', 'COOLBACK_HOST'];

// Pulling the images is not possible everywhere; what can be checked without an engine is.
describe('docker-compose.yml', () => {
  it('runs the official PostgreSQL image, the migration, the API and the worker', () => {
    expect(Object.keys(services).sort()).toEqual(['api', 'database', 'migrate', 'worker']);
    expect(services['database']!.image).toMatch(/^postgres:\d+$/);
  });

  it('starts files that the build makes', () => {
    for (const name of ['migrate', 'api', 'worker']) {
      const [binary, file] = services[name]!.command!.filter((part) => !part.startsWith('--'));
      expect(binary).toBe('node');
      expect(existsSync(join(process.cwd(), file!))).toBe(true);
    }
  });

  it('gives each process the environment it reads, and the owner’s address to the migration alone', () => {
    for (const name of ['migrate', 'api', 'worker']) {
      const environment = services[name]!.environment!;
      expect(Object.keys(environment).filter((key) => !KNOWN.includes(key))).toEqual([]);
      expect(environment['DATABASE_URL']).toMatch(/^postgresql:\/\/coolback_app:/);
      expect('DATABASE_OWNER_URL' in environment).toBe(name === 'migrate');
    }
    expect(services['worker']!.environment!['DATABASE_QUEUE_URL']).toMatch(/^postgresql:\/\/coolback_queue:/);
  });

  it('starts API and worker with the bounds on their heaps that npm start gives', () => {
    const { scripts } = JSON.parse(readFileSync('package.json', 'utf8')) as { scripts: { start: string } };
    expect(scripts.start).toBe(['node', ...HEAP_FLAGS, 'dist/apps/cli/main.js', 'start'].join(' '));
    for (const name of ['api', 'worker']) expect(services[name]!.command).toEqual(['node', ...HEAP_FLAGS, `dist/apps/${name}/main.js`]);
  });

  it('has no password of its own: each must be given', () => {
    for (const [, name] of text.matchAll(/\$\{(\w+)(?!\w*:\?)/g)) expect(text).toMatch(new RegExp(`\\$\\{${name}:\\?`));
    expect(text).not.toMatch(/PASSWORD: (?!\$\{)/);
  });

  it('waits for the database before the migration, and for the migration before the rest; the API stays on loopback', () => {
    expect(services['migrate']!.depends_on!['database']!.condition).toBe('service_healthy');
    for (const name of ['api', 'worker']) expect(services[name]!.depends_on!['migrate']!.condition).toBe('service_completed_successfully');
    expect(services['api']!.ports).toEqual(['127.0.0.1:4280:4280']);
    expect(services['api']!.healthcheck!.test.join(' ')).toContain('/readyz');
  });
});
