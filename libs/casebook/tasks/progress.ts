import { setTimeout as sleep } from 'node:timers/promises';

const POLL_MS = 300;
/** Looks without news after which a sign of life is given: a line that says nothing for long is cut on its way. */
const QUIET_LOOKS = 50;

/** What a run says of itself each time it has moved on, until it has ended; null as a sign of life in between. */
export async function* progressOf<Run extends { readonly state: string }>(
  look: () => Promise<Run>,
  goesOn: () => boolean,
): AsyncGenerator<Run | null> {
  let last = '';
  let quiet = 0;
  while (goesOn()) {
    const run = await look();
    const now = JSON.stringify(run);
    if (now !== last) yield run;
    else if (++quiet % QUIET_LOOKS === 0) yield null;
    last = now;
    if (run.state === 'done' || run.state === 'failed') return;
    await sleep(POLL_MS);
  }
}
