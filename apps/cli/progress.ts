import cliProgress from 'cli-progress';

/** A bar with rate and time left on a terminal; a line every few seconds where there is none. */
export function progressBar(label: string, total: number): { update(done: number): void; stop(): void } {
  const bar = new cliProgress.SingleBar(
    {
      format: `${label} [{bar}] {value}/{total} · {percentage} % · {eta_formatted} left`,
      noTTYOutput: true,
      notTTYSchedule: 3_000,
      hideCursor: true,
      stream: process.stderr,
    },
    cliProgress.Presets.rect,
  );
  bar.start(total, 0);
  return { update: (done) => bar.update(Math.min(done, total)), stop: () => bar.stop() };
}
