import type { DiagnosisResult, Layout, NewReading, Place, Platform } from '../client/generated/api.ts';
import { inSentence } from '../shell/words.ts';
import { LOOP, type Point, placeOf, pointOf, stretch } from './circuit-places.ts';
import { expectedAsTyped, isOfOnePlace, pressureDifference, typedText, type Units, unitName } from './quantities.ts';

export type IdentifiedReading = Pick<NewReading, 'place' | 'phase' | 'value' | 'unit' | 'stage' | 'quantity'> & { readonly id: string };

interface Props {
  readonly result: DiagnosisResult;
  readonly readings: readonly IdentifiedReading[];
  readonly platform: Platform | null;
  readonly layout: Layout | null;
  readonly units: Units;
}

interface Tag {
  readonly place: Place;
  readonly lines: readonly { readonly seen: string; readonly healthy: string | null }[];
}

/** Where a tag stands beside its place, so that neighbours do not meet. */
const TAGS: Partial<Record<Place, Point & { readonly anchor: 'start' | 'middle' | 'end' }>> = {
  'compressor-discharge': { x: 222, y: 122, anchor: 'end' },
  'compressor-suction': { x: 222, y: 268, anchor: 'end' },
  accumulator: { x: 222, y: 360, anchor: 'end' },
  'condenser-inlet': { x: 330, y: 28, anchor: 'middle' },
  'condenser-surface': { x: 600, y: 140, anchor: 'middle' },
  'condenser-air-inlet': { x: 500, y: 28, anchor: 'middle' },
  'condenser-outlet': { x: 690, y: 28, anchor: 'middle' },
  'liquid-line-before-drier': { x: 796, y: 100, anchor: 'start' },
  'liquid-line-after-drier': { x: 796, y: 198, anchor: 'start' },
  'valve-inlet': { x: 796, y: 278, anchor: 'start' },
  'valve-outlet': { x: 796, y: 372, anchor: 'start' },
  'evaporator-core': { x: 600, y: 330, anchor: 'middle' },
  'evaporator-outlet': { x: 340, y: 330, anchor: 'middle' },
  vent: { x: 532, y: 472, anchor: 'start' },
  'evaporator-air-inlet': { x: 408, y: 472, anchor: 'end' },
};

/** Seen values at their places with what a healthy system would have shown there, in the order of the flow. */
export function tagsOf({ result, readings, platform }: Pick<Props, 'result' | 'readings' | 'platform'>): readonly Tag[] {
  const tags = new Map<Place, { seen: string; healthy: string | null }[]>();
  for (const reading of readings) {
    if (reading.stage === 'after') continue;
    const place = placeOf(reading, platform);
    if (place === null || !TAGS[place]) continue;
    const line = result.ledger.find((one) => isOfOnePlace(one) && one.readings[0] === reading.id);
    const expected = line ? expectedAsTyped(reading, line) : null;
    const digits = reading.unit === 'bar' ? 1 : 0;
    const phase = reading.quantity === 'pressure' && reading.phase ? `${reading.phase} ` : '';
    const lines = tags.get(place) ?? [];
    lines.push({
      seen: `${phase}${typedText(reading)}`,
      healthy: expected === null ? null : `healthy ${expected.toFixed(digits)} ${unitName(reading.unit)}`,
    });
    tags.set(place, lines);
  }
  return [...tags].map(([place, lines]) => ({ place, lines }));
}

const pathOf = (points: readonly Point[]) => points.map(({ x, y }, i) => `${i === 0 ? 'M' : 'L'}${x} ${y}`).join('');

/** The circuit with the values at their places and the restriction marked where it lies. */
export function Circuit(props: Props) {
  const { result, platform, units } = props;
  const layout = platform?.layout ?? props.layout ?? 'valve-receiver';
  const tags = tagsOf(props);
  const restriction = result.restriction;
  const blocked = restriction ? stretch(restriction.after, restriction.before) : null;
  const described = [
    ...tags.map(
      ({ place, lines }) =>
        `${inSentence(place)}: ${lines.map(({ seen, healthy }) => [seen, healthy].filter(Boolean).join(', ')).join('; ')}`,
    ),
    ...(restriction ? [restriction.message] : []),
  ].join('. ');
  return (
    <figure className="circuit">
      <svg viewBox="40 10 960 495" role="img" aria-label={`Refrigerant circuit. ${described}`}>
        <Loop layout={layout} />
        <text className="soft" x="510" y="262" textAnchor="middle">
          thick line: high side, thin line: low side
        </text>
        <text className="soft" x="510" y="286" textAnchor="middle">
          flow runs clockwise
        </text>
        {blocked === null || restriction === null ? null : (
          <g>
            <path className="lost" d={pathOf(blocked)} strokeWidth="13" strokeDasharray="5 7" strokeLinejoin="round" />
            <text className="lost-text" x="510" y="172" textAnchor="middle">
              {pressureDifference(restriction.dropPa, units.pressure)} too much lost along the striped line
            </text>
          </g>
        )}
        {tags.map((tag) => (
          <PlaceTag key={tag.place} tag={tag} />
        ))}
      </svg>
    </figure>
  );
}

function PlaceTag({ tag: { place, lines } }: { readonly tag: Tag }) {
  const at = TAGS[place]!;
  const point = pointOf(place);
  return (
    <g>
      {point ? <circle cx={point.x} cy={point.y} r="8" fill="var(--sheet)" stroke="var(--ink)" strokeWidth="3" /> : null}
      {lines.map(({ seen, healthy }, i) => (
        <text key={`${seen} ${healthy}`} x={at.x} y={at.y + 44 * i * (lines.some((one) => one.healthy) ? 1 : 0.5)} textAnchor={at.anchor}>
          <tspan className="seen">{seen}</tspan>
          {healthy ? (
            <tspan className="soft" x={at.x} dy="21">
              {healthy}
            </tspan>
          ) : null}
        </text>
      ))}
    </g>
  );
}

/** The loop with its parts, nothing read on it yet. */
export function Loop({ layout }: { readonly layout: Layout }) {
  return (
    <>
      <path className="axis" d={pathOf(stretch('compressor', 'valve-inlet')!)} strokeWidth="7" strokeLinejoin="round" />
      <path
        className="axis"
        d={pathOf(LOOP.slice(LOOP.findIndex(({ place }) => place === 'valve-inlet')))}
        strokeWidth="3"
        strokeLinejoin="round"
      />
      <Compressor />
      <Exchanger y={85} name="condenser" />
      <Exchanger y={410} name="evaporator" />
      {layout === 'orifice-accumulator' ? <Vessel x={250} y={350} name="accumulator" side="right" /> : null}
      {layout === 'valve-receiver' ? <Vessel x={770} y={165} name="receiver-drier" side="left" /> : null}
      {layout === 'valve-integral-receiver' ? <Vessel x={712} y={95} name="cartridge" side="below" /> : null}
      <Expansion layout={layout} />
    </>
  );
}

function Compressor() {
  return (
    <g>
      <circle cx="250" cy="205" r="34" fill="var(--sheet)" stroke="var(--ink)" strokeWidth="3" />
      <path d="M232 222 250 184 268 222Z" fill="none" stroke="var(--ink)" strokeWidth="3" strokeLinejoin="round" />
      <text x="298" y="211">
        compressor
      </text>
    </g>
  );
}

function Exchanger({ y, name }: { readonly y: number; readonly name: string }) {
  return (
    <g>
      <rect x="352" y={y - 32} width="296" height="64" rx="8" fill="var(--sheet)" stroke="var(--ink)" strokeWidth="3" />
      <path
        d={`M352 ${y}${Array.from({ length: 14 }, (_, i) => `l${i === 0 ? 18 : 20} ${i === 0 ? -18 : i % 2 === 1 ? 36 : -36}`).join('')}L648 ${y}`}
        className="grid"
        strokeWidth="4"
        strokeLinejoin="round"
      />
      <text x="352" y={name === 'condenser' ? y + 52 : y - 44}>
        {name}
      </text>
    </g>
  );
}

function Vessel({
  x,
  y,
  name,
  side,
}: {
  readonly x: number;
  readonly y: number;
  readonly name: string;
  readonly side: 'left' | 'right' | 'below';
}) {
  const label =
    side === 'left'
      ? { x: x - 30, anchor: 'end' as const, y: y + 6 }
      : side === 'right'
        ? { x: x + 30, anchor: 'start' as const, y: y + 6 }
        : { x: x - 6, anchor: 'middle' as const, y: y + 58 };
  return (
    <g>
      <rect x={x - 17} y={y - 32} width="34" height="64" rx="16" fill="var(--sheet)" stroke="var(--ink)" strokeWidth="3" />
      <path d={`M${x - 10} ${y - 6}h20M${x - 10} ${y + 6}h20`} stroke="var(--ink)" strokeWidth="2" strokeDasharray="3 3" />
      <text x={label.x} y={label.y} textAnchor={label.anchor}>
        {name}
      </text>
    </g>
  );
}

function Expansion({ layout }: { readonly layout: Layout }) {
  const orifice = layout === 'orifice-accumulator';
  return (
    <g>
      {orifice ? (
        <path d="M760 305h20M760 353h20M765 305v48M775 305v48" stroke="var(--ink)" strokeWidth="3" fill="none" />
      ) : (
        <path d="M752 308h36l-36 42h36Z" fill="var(--sheet)" stroke="var(--ink)" strokeWidth="3" strokeLinejoin="round" />
      )}
      <text x="738" y="335" textAnchor="end">
        {orifice ? 'orifice tube' : 'expansion valve'}
      </text>
    </g>
  );
}
