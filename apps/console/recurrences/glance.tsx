import type { ReactNode } from 'react';
import type { BoardQuestion, Clock, RecurrenceLine } from '../client/generated/api.ts';
import { usePatterns, useShopReview, useWatches } from '../client/outcome-queries.ts';
import { useBoard } from '../client/queries.ts';
import { address } from '../shell/route.ts';
import { decimal, inSentence } from '../shell/words.ts';
import { clockPart } from './clock.ts';
import { Intent } from './intent.tsx';
import { patternAddress } from './pair.ts';
import { shopName } from './shop-name.ts';
import { watchAddress } from './stream.ts';

const MOST = 3;

export const lineAddress = (line: RecurrenceLine, clock: Clock) =>
  address('/recurrences/line', {
    platform: line.platformId,
    fault: line.fault,
    intent: line.intent,
    clock: clockPart(clock),
  });

interface Props {
  /** Which lines the board shows, of every kind of repair. */
  readonly question: BoardQuestion;
  readonly clock: Clock;
}

/** What a director came to see, before any table: lines worse than elsewhere, faults that follow faults, what is new, shops that differ. */
export function Glance({ question, clock }: Props) {
  const worse = useBoard({ ...question, only: 'above-elsewhere', first: MOST });
  const patterns = usePatterns({ include: 'found' });
  const watches = useWatches({ include: 'alarms' });
  const shops = useShopReview({});
  const replicated = (patterns.data?.patterns ?? []).filter(({ verdict }) => verdict === 'replicated');
  const alarms = (watches.data?.watches ?? []).filter(({ alarms: all }) => all.length > 0);
  const above = (shops.data?.shops ?? []).filter(({ verdict }) => verdict === 'above');
  return (
    <div className="glance">
      <Group title="Worse than elsewhere" href={null} none={worse.data ? 'No line is surely worse than the same repair elsewhere.' : '…'}>
        {(worse.data?.lines ?? []).map((line) => (
          <a key={`${line.platformId} ${line.fault} ${line.intent}`} href={lineAddress(line, clock)}>
            <span className="name">
              {line.platformName} · {inSentence(line.fault)}
            </span>{' '}
            <Intent intent={line.intent} short />
          </a>
        ))}
      </Group>
      <Group
        title="One fault after another"
        href="#/recurrences/patterns"
        none={patterns.data?.scoredAt === null ? 'Not weighed yet.' : patterns.data ? 'No pair is found twice.' : '…'}
      >
        {replicated.slice(0, MOST).map((one) => (
          <a key={`${one.cause} ${one.effect}`} href={patternAddress(one)}>
            <span className="name">
              {inSentence(one.cause)} → {inSentence(one.effect)}
            </span>{' '}
            <span className="quiet">{one.replication.ratio === null ? '' : `${decimal(one.replication.ratio)}×`}</span>
          </a>
        ))}
      </Group>
      <Group
        title="New of late"
        href="#/recurrences/watches"
        none={watches.data?.verdict === 'never' ? 'Not looked at yet.' : watches.data ? 'No alarm within the year.' : '…'}
      >
        {alarms.slice(0, MOST).map((one) => (
          <a key={`${one.platformId} ${one.fault} ${one.kind}`} href={watchAddress(one)}>
            <span className="name">
              {one.platformName} · {inSentence(one.fault)}
            </span>{' '}
            <span className="quiet">
              {decimal(one.alarms[0]!.ratio)}×{one.kind === 'returns' ? ' returns' : ''}
            </span>
          </a>
        ))}
      </Group>
      <Group title="Shops" href="#/recurrences/shops" none={shops.data ? 'None differs beyond chance.' : '…'}>
        {above.slice(0, MOST).map((one, i) => (
          <a key={one.shopId ?? i} href="#/recurrences/shops">
            <span className="name">{shopName(one)}</span>{' '}
            <span className="quiet">{one.ratio === null ? '' : `${decimal(one.ratio)}×`}</span>
          </a>
        ))}
      </Group>
    </div>
  );
}

interface GroupProps {
  readonly title: string;
  readonly href: string | null;
  readonly none: string;
  readonly children: readonly ReactNode[];
}

function Group({ title, href, none, children }: GroupProps) {
  return (
    <section aria-label={title}>
      <h2>{href === null ? title : <a href={href}>{title}</a>}</h2>
      {children.length === 0 ? <p className="quiet">{none}</p> : children}
    </section>
  );
}
