import type { Clock, FaultCode, RepairIntent } from '../client/generated/api.ts';
import { useBoard } from '../client/queries.ts';
import { Forest } from '../plots/forest.tsx';
import { Answered } from '../shell/answered.tsx';
import { address } from '../shell/route.ts';
import { count, inSentence, percent, plural } from '../shell/words.ts';
import { clockPart, horizonWords } from './clock.ts';
import { INTENT_NAMES } from './intent.tsx';

interface Props {
  readonly fault: FaultCode;
  readonly intent: RepairIntent;
  readonly clock: Clock;
  /** The platform whose line this is: it stands out. */
  readonly here: string;
}

/** The same fault and kind of repair, platform by platform. */
export function PlatformForest({ fault, intent, clock, here }: Props) {
  const board = useBoard({ clock, fault, intent, minimumEpisodes: 1 });
  return (
    <section className="sheet" aria-label="Platform by platform">
      <Answered query={board} what="the other platforms">
        {({ lines, horizon }) => {
          const mean = lines.find(({ platformId }) => platformId === here)?.elsewhere ?? null;
          return (
            <Forest
              title={`The same on every platform: ${inSentence(fault)}, ${INTENT_NAMES[intent]}`}
              words={`Chance to be back within ${horizonWords(clock, horizon)}, 95 % intervals, the surest first. Platforms with few repairs borrow from their family and the fault.`}
              file={`platforms-${fault}-${intent}`}
              label="chance of a return, %"
              within={[0, 1]}
              rows={lines.map((line) => ({
                key: line.platformId,
                name: line.platformName,
                point: line.probability,
                low: line.low,
                high: line.high,
                stands: `${count(line.returns)} of ${plural(line.episodes, 'repair')}`,
                shape: intent,
                strong: line.platformId === here,
                further: [line.borrowed, line.shops],
                href: address('/recurrences/line', {
                  platform: line.platformId,
                  fault,
                  intent,
                  clock: clockPart(clock),
                }),
              }))}
              show={percent}
              marks={mean === null ? [] : [{ at: mean, name: 'the others' }]}
              furtherColumns={[{ name: 'borrowed', show: percent }, { name: 'shops' }]}
            />
          );
        }}
      </Answered>
    </section>
  );
}
