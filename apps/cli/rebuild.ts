import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { Task } from '#libs/contracts/index.js';
import { progressBar } from './progress.js';
import { answerOf, type ServerOptions, serverOf } from './server.js';

interface RebuildOptions extends ServerOptions {
  readonly check?: boolean;
  readonly json?: boolean;
}

/** Exit code when the comparison found something that is not as derived. */
const SOME_DIFFER = 2;

/** Has the worker derive episodes and boards again, or only compare, and waits for its end. */
export async function rebuildCommand(options: RebuildOptions): Promise<void> {
  const { url, key } = serverOf(options, 'administrator');
  const headers = { authorization: `Bearer ${key}`, 'content-type': 'application/json' };
  const body = JSON.stringify({ check: options.check === true });
  let task = Task.parse(
    await (
      await answerOf(
        fetch(`${url}/v1/outcomes/rebuilds`, { method: 'POST', headers: { ...headers, 'idempotency-key': randomUUID() }, body }),
        url,
      )
    ).json(),
  );
  const bar = progressBar(options.check ? 'comparing' : 'deriving', task.total);
  try {
    while (task.state === 'waiting' || task.state === 'running') {
      await sleep(400);
      task = Task.parse(await (await answerOf(fetch(`${url}/v1/tasks/${task.id}`, { headers }), url)).json());
      bar.update(task.done);
    }
  } finally {
    bar.stop();
  }
  console.log(options.json ? JSON.stringify(task) : task.detail);
  if (task.state === 'failed') process.exitCode = 1;
  else if (options.check && / differ[ .]/.test(task.detail ?? '')) process.exitCode = SOME_DIFFER;
}
