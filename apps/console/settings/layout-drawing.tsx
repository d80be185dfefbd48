import { Compressor, Exchanger, Expansion, pathOf, Vessel } from '../bay/circuit.tsx';
import { LOOP, pointOf, stretch } from '../bay/circuit-places.ts';
import type { Layout, Place } from '../client/generated/api.ts';
import { inSentence } from '../shell/words.ts';

export interface Drawn {
  readonly layout: Layout;
  readonly highSidePort: Place;
  readonly highSideTransducer: Place;
  readonly lowSidePort: Place;
}

/** The circuit of a platform, with its ports and its transducer where they sit. */
export function LayoutDrawing({ platform }: { readonly platform: Drawn }) {
  const { layout, highSidePort, highSideTransducer, lowSidePort } = platform;
  const marks = [
    { place: highSidePort, name: 'high-side port', square: false },
    { place: highSideTransducer, name: 'transducer', square: true },
    { place: lowSidePort, name: 'low-side port', square: false },
  ];
  const described = marks.map(({ place, name }) => `${name} at ${inSentence(place)}`).join(', ');
  return (
    <svg viewBox="40 30 960 430" role="img" aria-label={`Circuit: ${inSentence(layout)}; ${described}.`}>
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
      {marks.map(({ place, name, square }, i) => {
        const at = pointOf(place);
        if (at === null) return null;
        const right = at.x > 500;
        // Two marks at one place stand one below the other.
        const shift = marks.slice(0, i).filter((other) => other.place === place).length * 26;
        return (
          <g key={name} className={square ? 'temporary' : 'permanent'}>
            {square ? (
              <rect x={at.x - 9} y={at.y - 9} width="18" height="18" fill="var(--sheet)" stroke="currentColor" strokeWidth="5" />
            ) : (
              <circle cx={at.x} cy={at.y} r="10" fill="var(--sheet)" stroke="currentColor" strokeWidth="5" />
            )}
            <text x={at.x + (right ? 20 : -20)} y={at.y - 12 + shift} textAnchor={right ? 'start' : 'end'} fontWeight="700">
              {name}
            </text>
          </g>
        );
      })}
    </svg>
  );
}
