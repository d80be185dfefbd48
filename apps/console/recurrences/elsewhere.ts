import type { RecurrenceLine } from '../client/generated/api.ts';

export interface Compared {
  readonly line: RecurrenceLine;
  /** Mean of the other platforms' figures for the same fault and kind of repair, weighted by repairs; null without two of them. */
  readonly elsewhere: number | null;
}

/** Sets each line beside the same repair on the other platforms. */
export function compared(lines: readonly RecurrenceLine[]): readonly Compared[] {
  const groups = new Map<string, { lines: number; repairs: number; returns: number }>();
  const key = ({ fault, intent }: RecurrenceLine) => `${fault} ${intent}`;
  for (const line of lines) {
    const group = groups.get(key(line)) ?? { lines: 0, repairs: 0, returns: 0 };
    group.lines += 1;
    group.repairs += line.episodes;
    group.returns += line.episodes * line.probability;
    groups.set(key(line), group);
  }
  return lines.map((line) => {
    const group = groups.get(key(line))!;
    const repairs = group.repairs - line.episodes;
    return { line, elsewhere: group.lines < 3 ? null : (group.returns - line.episodes * line.probability) / repairs };
  });
}

/** Lines whose whole interval lies above the same repair elsewhere, furthest first. */
export function standingOut(all: readonly Compared[]): readonly Compared[] {
  const excess = ({ line, elsewhere }: Compared) => (elsewhere === null ? 0 : line.low - elsewhere);
  return all.filter((one) => excess(one) > 0).sort((a, b) => excess(b) - excess(a));
}
