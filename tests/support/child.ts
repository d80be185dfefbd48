import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { transformFileSync } from '@swc/core';
import { migrationsDirectory } from '#libs/database/index.js';

const ROOT = join(migrationsDirectory(), '..', '..');

/**
 * libs/database as plain JavaScript for processes that a test starts in order to kill them. Compiled from the sources under test rather
 * than taken from `dist`, so that a stale build cannot pass. Lies in node_modules, where its packages are found.
 */
export function compiledDatabase(): string {
  const folder = join(ROOT, 'node_modules', '.cache', `coolback-test-${process.pid}`, 'libs', 'database');
  if (!existsSync(folder)) {
    const { $schema: _schema, ...config } = JSON.parse(readFileSync(join(ROOT, '.swcrc'), 'utf8')) as Record<string, unknown>;
    const draft = `${folder}.draft`;
    const source = join(ROOT, 'libs', 'database');
    for (const name of readdirSync(source, { recursive: true, encoding: 'utf8' })) {
      if (!name.endsWith('.ts') || name.endsWith('.test.ts')) continue;
      const target = join(draft, name.replace(/\.ts$/, '.js'));
      mkdirSync(dirname(target), { recursive: true });
      writeFileSync(target, transformFileSync(join(source, name), { ...config, swcrc: false, sourceMaps: false }).code);
    }
    renameSync(draft, folder);
  }
  return pathToFileURL(join(folder, 'index.js')).href;
}

export function removeCompiled(): void {
  rmSync(join(ROOT, 'node_modules', '.cache', `coolback-test-${process.pid}`), { recursive: true, force: true });
}

export interface Child {
  readonly process: ChildProcess;
  /** Resolves with the next line of JSON the child prints. */
  next<T>(): Promise<T>;
  readonly ended: Promise<number | null>;
}

/** A Node process of its own that runs `script` with everything of libs/database as `database` and prints JSON lines with `say`. */
export function startChild(script: string, env: Record<string, string>, library: string = compiledDatabase()): Child {
  const prelude = `import * as database from ${JSON.stringify(library)}; const say = (value) => console.log(JSON.stringify(value));`;
  const child = spawn(process.execPath, ['--input-type=module', '--eval', `${prelude}\n${script}`], {
    cwd: ROOT,
    env: { ...process.env, NODE_OPTIONS: '', ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const lines: string[] = [];
  const waiting: (() => void)[] = [];
  let rest = '';
  let errors = '';
  child.stdout.setEncoding('utf8').on('data', (text: string) => {
    const parts = (rest + text).split('\n');
    rest = parts.pop()!;
    lines.push(...parts);
    for (const wake of waiting.splice(0)) wake();
  });
  child.stderr.setEncoding('utf8').on('data', (text: string) => (errors += text));
  const ended = new Promise<number | null>((resolve) => child.once('close', (code) => resolve(code)));
  let over = false;
  void ended.then(() => {
    over = true;
    for (const wake of waiting.splice(0)) wake();
  });
  const next = async <T>(): Promise<T> => {
    while (lines.length === 0) {
      if (over) throw new Error(`the child process ended without an answer: ${errors}`);
      await new Promise<void>((resolve) => waiting.push(resolve));
    }
    return JSON.parse(lines.shift()!) as T;
  };
  return { process: child, next, ended };
}
