import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { type Plugin, type Rolldown, transformWithOxc } from 'vite';

const SOURCE = fileURLToPath(new URL('./worker.ts', import.meta.url));

/** Everything an entry of the bundle may ask for, pages that come in later too. */
function reached(bundle: Rolldown.OutputBundle, entry: string): string[] {
  const files = new Set<string>();
  const visit = (name: string) => {
    const chunk = bundle[name];
    if (files.has(name) || chunk?.type !== 'chunk') return;
    files.add(name);
    for (const style of chunk.viteMetadata?.importedCss ?? []) files.add(style);
    for (const next of [...chunk.imports, ...chunk.dynamicImports]) visit(next);
  };
  for (const chunk of Object.values(bundle)) if (chunk.type === 'chunk' && chunk.isEntry && chunk.name === entry) visit(chunk.fileName);
  return [...files].sort();
}

/** Writes the service worker beside the page: the files it keeps are those of this build, and its name changes with any of them. */
export function offlineWorker(): Plugin {
  return {
    name: 'offline-worker',
    apply: 'build',
    enforce: 'post',
    async generateBundle(_options, bundle) {
      const assets = reached(bundle, 'index');
      const page = bundle['index.html'];
      if (assets.length === 0 || page?.type !== 'asset') return this.error('the page and its files are not in the bundle');
      const build = createHash('sha256').update(JSON.stringify(assets)).update(page.source);
      const files = ['/', '/mark.svg', ...assets.map((name) => `/${name}`)];
      const head = `const FILES=${JSON.stringify(files)};const BUILD=${JSON.stringify(build.digest('hex').slice(0, 12))};\n`;
      const { code } = await transformWithOxc(readFileSync(SOURCE, 'utf8'), SOURCE, { sourcemap: false });
      this.emitFile({ type: 'asset', fileName: 'worker.js', source: head + code.replace(/^export \{\};?$/m, '') });
    },
  };
}
