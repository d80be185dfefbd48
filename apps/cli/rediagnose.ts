import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { Rediagnosis } from '#libs/contracts/index.js';
import { progressBar } from './progress.js';
import { answerOf, type ServerAddress, type ServerOptions, serverOf } from './server.js';

interface RediagnoseOptions extends ServerOptions {
  readonly platform?: string;
  readonly since?: string;
  readonly until?: string;
  readonly again?: boolean;
  readonly undiagnosed?: boolean;
  readonly json?: boolean;
}

const SHOWN = 12;
const POLL_MS = 500;

/** Asks the server to judge history again and follows the worker to the end. Interrupted, the work goes on; called again, it is followed again. */
export async function rediagnoseCommand(options: RediagnoseOptions): Promise<void> {
  const server = serverOf(options, 'administrator');
  const request = {
    ...(options.platform === undefined ? {} : { platformId: options.platform }),
    ...(options.since === undefined ? {} : { since: options.since }),
    ...(options.until === undefined ? {} : { until: options.until }),
    ...(options.again ? { again: true } : {}),
    ...(options.undiagnosed ? { undiagnosed: true } : {}),
  };
  const run = await follow(server, await ask(server, '/v1/rediagnoses', request));
  if (options.json) console.log(JSON.stringify(run));
  else say(run, server);
  if (run.state === 'failed') process.exitCode = 1;
}

async function ask(server: ServerAddress, path: string, body?: unknown): Promise<Rediagnosis> {
  const sent =
    body === undefined
      ? {}
      : {
          method: 'POST',
          headers: { 'content-type': 'application/json', 'idempotency-key': randomUUID() },
          body: JSON.stringify(body),
        };
  const response = await answerOf(
    fetch(`${server.url}${path}`, { ...sent, headers: { ...sent.headers, authorization: `Bearer ${server.key}` } }),
    server.url,
  );
  return Rediagnosis.parse(await response.json());
}

async function follow(server: ServerAddress, asked: Rediagnosis): Promise<Rediagnosis> {
  let run = asked;
  while (run.state === 'waiting') {
    await sleep(POLL_MS);
    run = await ask(server, `/v1/rediagnoses/${run.id}`);
  }
  const bar = progressBar('judging', Math.max(run.total, 1));
  try {
    bar.update(run.done);
    while (run.state === 'running') {
      await sleep(POLL_MS);
      run = await ask(server, `/v1/rediagnoses/${run.id}`);
      bar.update(run.done);
    }
  } finally {
    bar.stop();
  }
  return run;
}

function say(run: Rediagnosis, server: ServerAddress): void {
  const { compared, leadingChanged, nowAnswered, nowCannotTell, moved, failed } = run;
  console.log(`${run.engineVersion}: ${run.done} cases judged, ${compared} of them answered before${engines(run)}.`);
  if (run.detail && run.state === 'failed') console.log(run.detail);
  if (run.done === 0) return;
  console.log(
    `First answer changed in ${leadingChanged}; told now and not before ${nowAnswered}, before and not now ${nowCannotTell}; probability moved by 0.1 or more in ${moved}.`,
  );
  if (failed > 0) console.log(`${failed} could not be read: GET ${server.url}/v1/rediagnoses/${run.id}/changes?to=failed`);
  for (const { from, to, count } of run.transitions.filter((one) => one.from !== one.to).slice(0, SHOWN))
    console.log(`${String(count).padStart(8)}  ${from} → ${to}`);
  if (leadingChanged + moved > 0) console.log(`The cases: GET ${server.url}/v1/rediagnoses/${run.id}/changes`);
}

const engines = ({ from }: Rediagnosis) =>
  from.length === 0 ? '' : ` (by ${from.map(({ engineVersion, count }) => `${engineVersion}: ${count}`).join(', ')})`;
