import { useQuery } from '@tanstack/react-query';
import { answer, server } from '../client/client.ts';
import type { CircuitCycles, CircuitState, SaturationCurve } from '../client/generated/api.ts';
import { AxisAcross, AxisUp } from '../plots/axes.tsx';
import { Figure } from '../plots/figure.tsx';
import { ticksUpTo } from '../recurrences/return-curves.tsx';
import { Answered } from '../shell/answered.tsx';
import { words } from '../shell/words.ts';
import { type CyclePoint, isPoint, rowsOf, sentenceOf, stretches, whatItShows } from './cycle-words.ts';
import { pressureDifference, pressureIn, type Units, unitName } from './quantities.ts';

const BOX = { left: 64, right: 620, top: 16, bottom: 340, width: 640, height: 390 } as const;
const KILO = 1_000;
/** What any vehicle system reaches: the diagram shows at least this much. */
const LEAST = { low: 180 * KILO, high: 440 * KILO, top: 15e5 } as const;

interface Props {
  /** What the cycles are asked by. */
  readonly of: readonly unknown[];
  readonly ask: () => Promise<CircuitCycles>;
  readonly units: Units;
}

/** Pressure and heat of the refrigerant on its way round: this system against a sound one. */
export function PressureEnthalpy({ of, ask, units }: Props) {
  const cycles = useQuery({ queryKey: ['cycles', ...of], queryFn: ask });
  return (
    <section className="sheet" aria-label="Pressure and heat of the refrigerant">
      <Answered query={cycles} what="the refrigerant’s way round">
        {(data) => <OverDome cycles={data} units={units} />}
      </Answered>
    </section>
  );
}

function OverDome({ cycles, units }: { readonly cycles: CircuitCycles; readonly units: Units }) {
  const { refrigerant } = cycles;
  const curve = useQuery({
    queryKey: ['saturation', refrigerant],
    // A property of the substance: the same as long as the page is open.
    staleTime: Number.POSITIVE_INFINITY,
    queryFn: () => answer(server.GET('/v1/saturation', { params: { query: { refrigerant } } })),
  });
  return (
    <Answered query={curve} what="the refrigerant’s saturation curve">
      {(dome) => <Diagram cycles={cycles} dome={dome} units={units} />}
    </Answered>
  );
}

interface DiagramProps {
  readonly cycles: CircuitCycles;
  readonly dome: SaturationCurve;
  readonly units: Units;
}

function Diagram({ cycles: { refrigerant, healthy, seen, cautions }, dome, units }: DiagramProps) {
  const all = [...healthy, ...seen];
  const heats = all.filter(isPoint).map(({ enthalpyJPerKg }) => enthalpyJPerKg);
  const top = 1.12 * Math.max(LEAST.top, ...all.map(({ pressurePa }) => pressurePa));
  const low = Math.min(LEAST.low, ...heats.map((h) => h - 15 * KILO));
  const high = Math.max(LEAST.high, ...heats.map((h) => h + 15 * KILO));
  const x = (h: number) => BOX.left + ((h - low) / (high - low)) * (BOX.right - BOX.left);
  const y = (p: number) => BOX.bottom - (p / top) * (BOX.bottom - BOX.top);
  const scales = { x, y };
  const states = [
    ...healthy.map((state) => ({ state, kind: 'healthy' as const })),
    ...seen.map((state) => ({ state, kind: 'seen' as const })),
  ];
  const across = Array.from({ length: 20 }, (_, i) => 50 * (Math.ceil(low / KILO / 50) + i)).filter((h) => h * KILO <= high);
  const levels = seen.filter((state) => !isPoint(state));
  const unit = unitName(units.pressure);
  return (
    <div className="stack">
      <Figure
        title="Pressure and heat of the refrigerant"
        words={[
          `The higher, the more pressure; the further right, the more heat a kilogram of ${refrigerant} carries. Under the curve liquid and vapour stand together.`,
          ...whatItShows(healthy, seen, units),
        ].join(' ')}
        file="pressure-enthalpy"
        width={BOX.width}
        height={BOX.height}
        columns={[
          { name: 'Where' },
          { name: `Pressure healthy, ${unit} absolute` },
          { name: `Pressure seen, ${unit} absolute` },
          { name: 'Temperature healthy' },
          { name: 'Temperature seen' },
          { name: 'Enthalpy healthy, kJ/kg' },
          { name: 'Enthalpy seen, kJ/kg' },
        ]}
        rows={rowsOf(healthy, seen, units)}
        points={states.map(({ state, kind }) => sentenceOf(state, kind, units))}
        first={healthy.length < states.length ? healthy.length : 0}
        legend={<Legend levels={levels.length > 0} />}
      >
        {(chosen) => (
          <>
            <AxisUp
              scale={(value) => BOX.bottom - (value / pressureIn(top, units.pressure)) * (BOX.bottom - BOX.top)}
              ticks={ticksUpTo(pressureIn(top, units.pressure))}
              show={String}
              label={`pressure, ${unit} absolute`}
              x={BOX.left}
              top={BOX.top}
              bottom={BOX.bottom}
              to={BOX.right}
            />
            <AxisAcross
              scale={(h) => x(h * KILO)}
              ticks={across}
              show={String}
              label="specific enthalpy, kJ/kg"
              from={BOX.left}
              to={BOX.right}
              y={BOX.bottom}
            />
            <path className="dome" d={domePath(dome, { top, low }, scales)} />
            <text className="soft" x={x(low) + 8} y={BOX.top + 14}>
              liquid
            </text>
            <text className="soft" x={BOX.right - 6} y={BOX.bottom - 8} textAnchor="end">
              vapour
            </text>
            <text className="soft" x={x(320 * KILO)} y={BOX.bottom - 8} textAnchor="middle">
              liquid and vapour
            </text>
            {levels.map(({ pressurePa, place }) => (
              <line key={place} className="level-line" x1={BOX.left} x2={BOX.right} y1={y(pressurePa)} y2={y(pressurePa)} />
            ))}
            <Cycle states={healthy} kind="healthy" {...scales} />
            <Cycle states={seen} kind="seen" {...scales} />
            <LevelNames states={levels} y={y} units={units} />
            <Chosen state={states[chosen]?.state ?? null} {...scales} />
          </>
        )}
      </Figure>
      <details>
        <summary>What this drawing cannot tell</summary>
        <ul className="bullets">
          {cautions.map((caution) => (
            <li key={caution}>{caution}</li>
          ))}
          <li>{dome.source}</li>
        </ul>
      </details>
    </div>
  );
}

function Legend({ levels }: { readonly levels: boolean }) {
  return (
    <p className="legend">
      <span>
        <svg viewBox="0 0 44 14" width="44" height="14" aria-hidden="true">
          <path className="cycle healthy" d="M2 7H42" />
          <rect className="mark healthy" x="18" y="3" width="8" height="8" />
        </svg>{' '}
        sound system, expected
      </span>
      <span>
        <svg viewBox="0 0 44 14" width="44" height="14" aria-hidden="true">
          <path className="cycle seen" d="M2 7H42" />
          <circle className="mark seen" cx="22" cy="7" r="5" />
        </svg>{' '}
        this system, {levels ? 'seen; a line right across is a pressure whose heat is not known' : 'seen'}
      </span>
    </p>
  );
}

interface Scales {
  readonly x: (h: number) => number;
  readonly y: (p: number) => number;
}

/** Saturated liquid up, saturated vapour down, cut where the diagram ends. */
function domePath(dome: SaturationCurve, { top, low }: { top: number; low: number }, { x, y }: Scales): string {
  const branch = (of: 'liquidEnthalpyJPerKg' | 'vapourEnthalpyJPerKg') => {
    const inside: (readonly [number, number])[] = [];
    for (const [i, point] of dome.points.entries()) {
      if (point[of] < low) continue;
      if (point.pressurePa <= top) inside.push([point[of], point.pressurePa]);
      else {
        const last = dome.points[i - 1];
        if (last) {
          const share = (top - last.pressurePa) / (point.pressurePa - last.pressurePa);
          inside.push([last[of] + share * (point[of] - last[of]), top]);
        }
        break;
      }
    }
    return inside;
  };
  const draw = (points: readonly (readonly [number, number])[]) =>
    points.map(([h, p], i) => `${i === 0 ? 'M' : 'L'}${x(h).toFixed(1)} ${y(p).toFixed(1)}`).join('');
  return draw(branch('liquidEnthalpyJPerKg')) + draw(branch('vapourEnthalpyJPerKg'));
}

const MARK = 5;

function Cycle({ states, kind, x, y }: Scales & { readonly states: readonly CircuitState[]; readonly kind: 'healthy' | 'seen' }) {
  const place = ({ enthalpyJPerKg, pressurePa }: CyclePoint) => [x(enthalpyJPerKg), y(pressurePa)] as const;
  return (
    <g>
      {stretches(states).map((stretch) => (
        <path
          key={stretch[0]!.place}
          className={`cycle ${kind}`}
          d={stretch.map((one, i) => `${i === 0 ? 'M' : 'L'}${place(one).join(' ')}`).join('')}
        />
      ))}
      {states.filter(isPoint).map((state) => {
        const [px, py] = place(state);
        return kind === 'healthy' ? (
          <rect key={state.place} className="mark healthy" x={px - MARK} y={py - MARK} width={2 * MARK} height={2 * MARK} />
        ) : (
          <circle key={state.place} className={state.reckoned ? 'mark seen reckoned' : 'mark seen'} cx={px} cy={py} r={MARK + 1} />
        );
      })}
    </g>
  );
}

/** Names of the pressures whose heat is not known; those that would meet are moved apart. */
function LevelNames({ states, y, units }: { readonly states: readonly CircuitState[]; readonly y: Scales['y']; readonly units: Units }) {
  const sorted = [...states].sort((a, b) => b.pressurePa - a.pressurePa);
  let free = Number.NEGATIVE_INFINITY;
  return (
    <g>
      {sorted.map((state) => {
        const line = y(state.pressurePa);
        const text = Math.max(line - 5, free);
        free = text + 15;
        return (
          <text key={state.place} className="on-level" x={BOX.right - 4} y={text} textAnchor="end">
            {words(state.pressureAt)}, {pressureDifference(state.pressurePa, units.pressure)}
          </text>
        );
      })}
    </g>
  );
}

function Chosen({ state, x, y }: Scales & { readonly state: CircuitState | null }) {
  if (!state) return null;
  const py = y(state.pressurePa);
  return isPoint(state) ? (
    <circle className="chosen" cx={x(state.enthalpyJPerKg)} cy={py} r={MARK + 6} />
  ) : (
    <rect className="chosen" x={BOX.left} y={py - 4} width={BOX.right - BOX.left} height="8" />
  );
}
