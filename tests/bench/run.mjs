// Every bench of the repository in one run, as JSON lines: {name, ratio, baseline, aim, better, met, detail}. All ratios come from the same run.
// `npm run bench -- engine properties` runs some of them. Sources are TypeScript; they are compiled beside the built libs, which they import.
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { transformSync } from '@swc/core';

const HERE = fileURLToPath(new URL('.', import.meta.url));
const BUILT = join(HERE, '..', '..', 'dist', 'bench');
/** The calibration's builder, which the engine's bench times: beside the benches, as in the source tree. */
const BUILDER = join(HERE, '..', '..', 'dist', 'validate');
const BENCHES = [
  ['api', 'runApiBench', 'api.bench.mjs'],
  ['import', 'runImportBench', 'import.bench.mjs'],
  ['region', 'runRegionBench', 'region.bench.mjs'],
  ['console', 'runConsoleBench', 'console.bench.mjs'],
  ['engine', 'runEngineBench', 'engine.bench.ts'],
  ['rediagnosis', 'runRediagnosisBench', 'rediagnosis.bench.ts'],
  ['system', 'runSystemBench', 'system.bench.ts'],
  ['properties', 'runPropertiesBench', 'properties.bench.ts'],
];

function compiled() {
  const { $schema, ...swc } = JSON.parse(readFileSync(join(HERE, '..', '..', '.swcrc'), 'utf8'));
  for (const [from, to] of [
    [HERE, BUILT],
    [join(HERE, '..', 'validate'), BUILDER],
  ]) {
    mkdirSync(to, { recursive: true });
    for (const name of readdirSync(from).filter((entry) => entry.endsWith('.ts') && !entry.endsWith('.test.ts'))) {
      const { code } = transformSync(readFileSync(join(from, name), 'utf8'), { ...swc, swcrc: false, sourceMaps: false, filename: name });
      writeFileSync(join(to, name.replace(/\.ts$/, '.js')), code);
    }
  }
}

const asked = process.argv.slice(2);
const unknown = asked.filter((name) => !BENCHES.some(([known]) => known === name));
if (unknown.length > 0) throw new Error(`no bench is called ${unknown.join(', ')}: ${BENCHES.map(([name]) => name).join(', ')}`);
compiled();
for (const [name, entry, file] of BENCHES) {
  if (asked.length > 0 && !asked.includes(name)) continue;
  if (!existsSync(join(HERE, file))) continue;
  const module = await import(pathToFileURL(file.endsWith('.mjs') ? join(HERE, file) : join(BUILT, file.replace(/\.ts$/, '.js'))).href);
  for (const { better = 'less', ...line } of await module[entry]()) {
    const met = better === 'more' ? line.ratio >= line.aim : line.ratio <= line.aim;
    console.log(JSON.stringify({ bench: name, ...line, ratio: Number(line.ratio.toPrecision(4)), better, met }));
  }
}
