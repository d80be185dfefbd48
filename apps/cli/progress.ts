import cliProgress from 'cli-progress';

/** A bar with rate and time left on a terminal; a line every few seconds where there is none. The rate is that since the first update. */
export function progressBar(label: string, total: number): { update(done: number): void; stop(): void } {
  let first: { readonly at: number; readonly done: number } | null = null;
  const rate = (done: number): string => {
    first ??= { at: performance.now(), done };
    const seconds = (performance.now() - first.at) / 1000;
    if (seconds < 1 || done === first.done) return '–';
    const perSecond = (done - first.done) / seconds;
    return perSecond < 100 ? perSecond.toPrecision(2) : String(Math.round(perSecond));
  };
  const bar = new cliProgress.SingleBar(
    {
      format: `${label} [{bar}] {value}/{total} · {percentage} % · {rate}/s · {eta_formatted} left`,
      noTTYOutput: true,
      notTTYSchedule: 3_000,
      hideCursor: true,
      stream: process.stderr,
    },
    cliProgress.Presets.rect,
  );
  bar.start(total, 0, { rate: '–' });
  return { update: (done) => bar.update(Math.min(done, total), { rate: rate(done) }), stop: () => bar.stop() };
}
