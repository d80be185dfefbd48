import { Loop } from '../bay/circuit.tsx';
import { pointOf } from '../bay/circuit-places.ts';
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
      <Loop layout={layout} />
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
