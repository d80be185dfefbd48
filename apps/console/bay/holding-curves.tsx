import { useQueries } from '@tanstack/react-query';
import { useId } from 'react';
import { answer, server } from '../client/client.ts';
import type { HoldingAnswer, HoldingOption, RepairIntent, ReturnAnswer } from '../client/generated/api.ts';
import { INTENT_NAMES, IntentShape } from '../recurrences/intent.tsx';
import { pointAt, ticksUpTo } from '../recurrences/return-curves.tsx';
import { count, day, percent, words } from '../shell/words.ts';

const WIDTH = 760;
const BOX = { left: 256, right: 18, top: 22, height: 250 } as const;
const DASHES: Readonly<Record<RepairIntent, string>> = { temporary: '7 4', permanent: 'none', unknown: '2 3' };
const MAX_CURVES = 3;
const DAY_MS = 86_400_000;

const keyOf = ({ action, intent }: Pick<HoldingOption, 'action' | 'intent'>) => `${action} ${intent}`;
const nameOf = ({ action, intent }: HoldingOption) => `${words(action)} (${INTENT_NAMES[intent]})`;

interface Props {
  readonly odds: HoldingAnswer;
  readonly options: readonly HoldingOption[];
}

/** How each kind of repair held over the days that followed, with its band and the numbers still followed: past repairs of this platform. */
export function HoldingCurves({ odds, options }: Props) {
  const asked = options.slice(0, MAX_CURVES);
  const answers = useQueries({
    queries: asked.map(({ action, intent }) => ({
      queryKey: ['returns', odds.platformId, odds.fault, action, intent],
      enabled: odds.platformId !== null,
      queryFn: () =>
        answer(
          server.GET('/v1/outcomes/return-rates', {
            params: { query: { platformId: odds.platformId!, fault: odds.fault, action, intent, clock: 'calendar-days' as const } },
          }),
        ),
    })),
  });
  const drawn = asked.flatMap((option, i) => {
    const its = answers[i]!.data;
    return its && its.curve.length > 0 ? [{ option, its }] : [];
  });
  const few = asked.filter((_, i) => answers[i]!.data?.verdict === 'not-enough');
  if (drawn.length === 0) {
    return answers.some(({ isPending }) => isPending) && odds.platformId !== null ? null : (
      <p className="quiet">
        No curve: too few such repairs were followed on this very platform. The shares above borrow from others, as said.
      </p>
    );
  }
  return (
    <>
      <Curves drawn={drawn} until={odds.until} from={odds.from} />
      <p className="quiet small">
        The curves are repairs of this very platform alone; the shares in figures are drawn towards those of its kin where they are few.
      </p>
      {few.length === 0 ? null : (
        <p className="quiet">No curve for {few.map(nameOf).join(', ')}: too few were followed on this very platform.</p>
      )}
    </>
  );
}

interface CurvesProps {
  readonly drawn: readonly { readonly option: HoldingOption; readonly its: ReturnAnswer }[];
  readonly from: string;
  readonly until: string;
}

function Curves({ drawn, from, until }: CurvesProps) {
  const id = useId();
  const horizon = (Date.parse(until) - Date.parse(from)) / DAY_MS;
  const end = Math.max(horizon, Math.min(Math.max(...drawn.map(({ its }) => its.curve.at(-1)!.at)), 1.4 * horizon));
  const x = (at: number) => BOX.left + ((WIDTH - BOX.left - BOX.right) * Math.min(at, end)) / end;
  const y = (holding: number) => BOX.top + BOX.height * (1 - holding);
  const ticks = ticksUpTo(end);
  return (
    <figure className="plot">
      <svg viewBox={`0 0 ${WIDTH} ${BOX.top + BOX.height + 62 + 22 * drawn.length}`} role="img" aria-labelledby={id}>
        <title id={id}>
          {drawn
            .map(({ option, its }) => {
              const point = pointAt(its, horizon);
              return `${nameOf(option)}: ${point ? `${percent(1 - point.probability)} still holding after ${count(horizon)} days` : 'no figure'}, ${count(its.episodes)} repairs, ${count(its.returns)} returns.`;
            })
            .join(' ')}
        </title>
        {[0, 0.25, 0.5, 0.75, 1].map((share) => (
          <g key={share}>
            <line className="grid" x1={BOX.left} x2={WIDTH - BOX.right} y1={y(share)} y2={y(share)} />
            <text className="soft" x={BOX.left - 8} y={y(share) + 4} textAnchor="end">
              {100 * share} %
            </text>
          </g>
        ))}
        <text className="soft" transform={`translate(${BOX.left - 58} ${BOX.top + BOX.height / 2}) rotate(-90)`} textAnchor="middle">
          repairs still holding
        </text>
        {ticks.map((at) => (
          <g key={at}>
            <line className="axis" x1={x(at)} x2={x(at)} y1={BOX.top + BOX.height} y2={BOX.top + BOX.height + 5} />
            <text className="soft" x={x(at)} y={BOX.top + BOX.height + 18} textAnchor="middle">
              {count(at)}
            </text>
          </g>
        ))}
        <line className="axis" x1={BOX.left} x2={WIDTH - BOX.right} y1={y(0)} y2={y(0)} />
        <text className="soft" x={(BOX.left + WIDTH - BOX.right) / 2} y={BOX.top + BOX.height + 36} textAnchor="middle">
          days after the repair
        </text>
        <line x1={x(horizon)} x2={x(horizon)} y1={BOX.top} y2={y(0)} stroke="var(--ink)" strokeDasharray="1 4" />
        <text x={x(horizon) - 6} y={BOX.top - 8} textAnchor="end">
          {day(until)}
        </text>
        {drawn.map(({ option, its }) => (
          <g key={keyOf(option)} className={option.intent}>
            <path d={band(its, x, y)} fill="currentColor" fillOpacity="0.15" />
            <path d={line(its, x, y)} fill="none" stroke="currentColor" strokeWidth="2.5" strokeDasharray={DASHES[option.intent]} />
            <g transform={`translate(${x(horizon)} ${y(1 - (pointAt(its, horizon)?.probability ?? 0))})`}>
              <IntentShape intent={option.intent} />
            </g>
          </g>
        ))}
        <text className="soft" x="0" y={BOX.top + BOX.height + 56}>
          still followed
        </text>
        {drawn.map(({ option, its }, row) => (
          <g key={keyOf(option)} className={option.intent}>
            <g transform={`translate(6 ${BOX.top + BOX.height + 72 + 22 * row})`}>
              <IntentShape intent={option.intent} />
            </g>
            <text x="18" y={BOX.top + BOX.height + 76 + 22 * row}>
              {words(option.action)}
            </text>
            {ticks.map((at) => (
              <text key={at} x={x(at)} y={BOX.top + BOX.height + 76 + 22 * row} textAnchor="middle">
                {at === 0 ? its.episodes : (pointAt(its, at)?.atRisk ?? 0)}
              </text>
            ))}
          </g>
        ))}
      </svg>
    </figure>
  );
}

type Scale = (value: number) => number;
const line = ({ curve }: ReturnAnswer, x: Scale, y: Scale) =>
  curve.map(({ at, probability }, i) => (i === 0 ? `M${x(at)} ${y(1 - probability)}` : `H${x(at)}V${y(1 - probability)}`)).join('');

function band({ curve }: ReturnAnswer, x: Scale, y: Scale): string {
  const upper = curve.map(({ at, low }, i) => (i === 0 ? `M${x(at)} ${y(1 - low)}` : `H${x(at)}V${y(1 - low)}`));
  const lower: string[] = [];
  for (let i = curve.length - 1; i >= 0; i--) {
    const { at, high } = curve[i]!;
    lower.push(i === curve.length - 1 ? `V${y(1 - high)}` : `V${y(1 - high)}H${x(at)}`);
  }
  return `${upper.join('')}${lower.join('')}Z`;
}
