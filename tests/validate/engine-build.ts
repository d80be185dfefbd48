import { readFileSync, writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads';
import { encode } from '#libs/engine/calibration/codec.js';
import type { CalibratedGroup } from '#libs/engine/calibration/model.js';
import type { CompressorKind, FaultCode, Layout } from '#libs/engine/index.js';
import { steadySimulator } from '#libs/engine/simulation/simulate.js';
import { calibrateGroup } from './engine-calibrate.js';

/**
 * Builds the engine's calibration: `node dist/tests/validate/engine-build.js <target.ts> [draws]`. One kind of system is one task; tasks are
 * shared among worker threads; progress goes to standard error. Deterministic: the same code writes the same file.
 */
interface Task {
  readonly layout: Layout;
  readonly compressor: CompressorKind;
  readonly codes: readonly FaultCode[];
}

const COMMON: readonly FaultCode[] = [
  'undercharge',
  'overcharge',
  'air-in-system',
  'condenser-dirt',
  'condenser-fan',
  'condenser-passages',
  'liquid-line-restriction',
  'discharge-line-restriction',
  'suction-restriction',
  'compressor-leakage',
  'evaporator-airflow',
  'evaporator-fouling',
  'air-door',
  'excess-oil',
  'low-oil',
  'compressor-wear',
];

export const TASKS: readonly Task[] = (['orifice-accumulator', 'valve-receiver', 'valve-integral-receiver'] as const).flatMap((layout) =>
  (['fixed-clutch', 'variable', 'electric'] as const)
    .filter((compressor) => layout !== 'orifice-accumulator' || compressor !== 'electric')
    .map((compressor) => ({
      layout,
      compressor,
      codes: [
        ...COMMON,
        ...(layout === 'orifice-accumulator'
          ? (['orifice-clogged', 'orifice-oversize'] as const)
          : (['valve-restricted', 'valve-stuck-open'] as const)),
        ...(layout === 'valve-integral-receiver' ? (['filter-cartridge'] as const) : []),
        ...(compressor === 'variable' ? (['displacement-stuck-low'] as const) : []),
        ...(compressor === 'electric' ? (['electric-compressor-limited'] as const) : (['clutch-slip'] as const)),
      ],
    })),
);

const TOTAL = TASKS.reduce((sum, t) => sum + t.codes.length + 1, 0);

async function build(target: string, draws: number): Promise<void> {
  const groups: (CalibratedGroup | undefined)[] = TASKS.map(() => undefined);
  let next = 0;
  let done = 0;
  const start = performance.now();
  await Promise.all(
    Array.from({ length: Math.min(availableParallelism(), TASKS.length) }, async () => {
      while (next < TASKS.length) {
        const index = next++;
        groups[index] = await new Promise<CalibratedGroup>((resolve, reject) => {
          const worker = new Worker(fileURLToPath(import.meta.url), { workerData: { index, draws } });
          worker.on('message', (message: CalibratedGroup | 'tick') => {
            if (message !== 'tick') return resolve(message);
            done++;
            const share = Math.round((30 * done) / TOTAL);
            process.stderr.write(
              `\r[${'#'.repeat(share).padEnd(30)}] ${done}/${TOTAL} faults, ${((performance.now() - start) / 1000).toFixed(0)} s`,
            );
          });
          worker.on('error', reject);
        });
      }
    }),
  );
  const artefact = encode('c3', groups as CalibratedGroup[]);
  const lines = [
    "import type { Artefact } from './codec.js';",
    '',
    '/** Written by tests/validate/engine-build.ts from the steady system model; not edited by hand. */',
    'export const ARTEFACT: Artefact = {',
    `  version: '${artefact.version}',`,
    `  hash: '${artefact.hash}',`,
    `  header: '${artefact.header}',`,
    `  data: '${artefact.data}',`,
    '};',
    '',
  ];
  writeFileSync(target, lines.join('\n'));
  const nodes = (groups as CalibratedGroup[]).reduce((sum, g) => sum + g.nodes.length, 0);
  process.stderr.write(`\n${nodes} nodes, ${(readFileSync(target).length / 1e6).toFixed(2)} MB, hash ${artefact.hash}\n`);
}

if (!isMainThread) {
  const { index, draws } = workerData as { index: number; draws: number };
  const task = TASKS[index]!;
  parentPort!.postMessage(
    calibrateGroup(steadySimulator(), task.layout, task.compressor, task.codes, draws, () => parentPort!.postMessage('tick')),
  );
} else if (process.argv[1]?.replaceAll('\\', '/').includes('/validate/engine-build.')) {
  const [target, draws] = [process.argv[2], Number(process.argv[3] ?? 256)];
  if (!target) throw new Error('usage: engine-build <target.ts> [draws]');
  await build(target, draws);
}
