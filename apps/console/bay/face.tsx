import { useId } from 'react';
import type { CoolerZone, Platform } from '../client/generated/api.ts';
import { blocks } from './grid.ts';

export const FACE = { width: 480, height: 384, header: 26 } as const;
const INNER = FACE.width - 2 * FACE.header;
const SUBCOOL_USUAL = 0.22;
const TUBES = 20;

/** The condenser as far as it is known: of an unlisted car only whether the bottle sits on it. */
export interface FaceOf {
  readonly passes: number;
  /** Share of the height below which liquid is subcooled; 0 where there is no such part. */
  readonly subcoolShare: number;
  readonly coolerZones: readonly CoolerZone[];
}

export function faceOf(platform: Platform | null, integral: boolean): FaceOf {
  if (platform === null) return { passes: integral ? 3 : 1, subcoolShare: integral ? SUBCOOL_USUAL : 0, coolerZones: [] };
  const subcoolShare = platform.layout === 'valve-integral-receiver' ? platform.subcoolShare : 0;
  return { passes: platform.condenserPasses, subcoolShare, coolerZones: platform.coolerZones };
}

export interface FaceSpot {
  readonly x: number;
  readonly y: number;
}

/** Where spots are best typed: three across, five heights of the condensing part and two of the subcooled. */
export function suggestedSpots({ subcoolShare }: FaceOf): readonly (readonly FaceSpot[])[] {
  const heights = Array.from({ length: 5 }, (_, i) => ((i + 0.5) / 5) * (1 - subcoolShare));
  if (subcoolShare > 0) heights.push(1 - 0.75 * subcoolShare, 1 - 0.25 * subcoolShare);
  return heights.map((y) => [0.16, 0.5, 0.84].map((x) => ({ x, y })));
}

/** Where on the drawing a share of width and height lies. Seen from the front, the inlet may be on either side. */
export const acrossFace = (x: number, inletRight: boolean): number => FACE.header + INNER * (inletRight ? 1 - x : x);
const downFace = (y: number) => FACE.height * y;

interface Props {
  readonly face: FaceOf;
  readonly inletRight: boolean;
  readonly grid?: readonly (readonly number[])[] | null;
  /** Height of a fall in temperature, to be marked. */
  readonly stepAt?: number | null;
  readonly label: string;
}

/** The condenser from the front: tubes, passes with their flow, the subcooled part, what other coolers hide, and a grid as shades of one colour. */
export function Face({ face, inletRight, grid = null, stepAt = null, label }: Props) {
  const id = useId();
  const condensing = 1 - face.subcoolShare;
  const upper = Math.max(1, face.subcoolShare > 0 ? face.passes - 1 : face.passes);
  const passes = Array.from({ length: upper }, (_, i) => ({ top: (i / upper) * condensing, bottom: ((i + 1) / upper) * condensing }));
  if (face.subcoolShare > 0) passes.push({ top: condensing, bottom: 1 });
  return (
    <svg className="face-drawing" viewBox={`-8 -24 ${FACE.width + 16} ${FACE.height + 34}`} role="img" aria-label={label}>
      <defs>
        <pattern id={`${id}-hatch`} width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <line x1="0" x2="0" y1="0" y2="9" stroke="var(--edge)" strokeWidth="2.5" />
        </pattern>
      </defs>
      <rect x={FACE.header} width={INNER} height={FACE.height} fill="var(--sheet)" />
      {grid ? <Shades grid={grid} inletRight={inletRight} /> : null}
      {Array.from({ length: TUBES }, (_, i) => (i + 0.5) / TUBES).map((y) => (
        <line key={y} className="grid" x1={FACE.header} x2={FACE.width - FACE.header} y1={downFace(y)} y2={downFace(y)} strokeWidth="2" />
      ))}
      {face.coolerZones.map((zone) => (
        <g key={zone.name}>
          <rect
            x={Math.min(acrossFace(zone.left, inletRight), acrossFace(zone.right, inletRight))}
            y={downFace(zone.top)}
            width={INNER * (zone.right - zone.left)}
            height={downFace(zone.bottom - zone.top)}
            fill={`url(#${id}-hatch)`}
            stroke="var(--edge)"
          />
          <text
            className="on-face"
            x={acrossFace((zone.left + zone.right) / 2, inletRight)}
            y={downFace(zone.bottom) - 6}
            textAnchor="middle"
          >
            {zone.name}
          </text>
        </g>
      ))}
      {passes.slice(1).map(({ top }) => (
        <line
          key={top}
          x1={FACE.header}
          x2={FACE.width - FACE.header}
          y1={downFace(top)}
          y2={downFace(top)}
          stroke="var(--ink)"
          strokeWidth="1.5"
          strokeDasharray="2 5"
        />
      ))}
      {[0, FACE.width - FACE.header].map((x) => (
        <rect key={x} x={x} width={FACE.header} height={FACE.height} rx="6" fill="var(--sunk)" stroke="var(--ink)" strokeWidth="2" />
      ))}
      {passes.map(({ top, bottom }, i) => (
        <Flow key={top} y={downFace((top + bottom) / 2)} rightwards={(i % 2 === 0) !== inletRight} />
      ))}
      <text x={inletRight ? FACE.width : 0} y="-8" textAnchor={inletRight ? 'end' : 'start'}>
        gas in
      </text>
      {face.subcoolShare > 0 ? (
        <text className="soft" x={inletRight ? 0 : FACE.width} y="-8" textAnchor={inletRight ? 'start' : 'end'}>
          below the last dashed line: subcooling
        </text>
      ) : null}
      {stepAt === null ? null : (
        <line
          className="lost"
          x1={-6}
          x2={FACE.width + 6}
          y1={downFace(stepAt)}
          y2={downFace(stepAt)}
          strokeWidth="5"
          strokeDasharray="14 6"
        />
      )}
    </svg>
  );
}

/** An arrow in both headers' gap would hide tubes: the way of the flow stands in the header it leaves from. */
function Flow({ y, rightwards }: { readonly y: number; readonly rightwards: boolean }) {
  const x = rightwards ? FACE.header / 2 : FACE.width - FACE.header / 2;
  const d = rightwards ? 'M-6-6 5 0-6 6' : 'M6-6-5 0 6 6';
  return <path d={d} transform={`translate(${x} ${y})`} fill="none" stroke="var(--ink)" strokeWidth="2.5" strokeLinejoin="round" />;
}

/** Warm is full, cold is pale: one hue, so that it reads the same to every eye; its scale stands beneath in the caption. */
function Shades({ grid, inletRight }: { readonly grid: readonly (readonly number[])[]; readonly inletRight: boolean }) {
  const coarse = blocks(grid, Math.ceil(grid.length / 40), Math.ceil(grid[0]!.length / 48));
  const flat = coarse.flat();
  const low = Math.min(...flat);
  const span = Math.max(...flat) - low || 1;
  const width = INNER / coarse[0]!.length;
  const height = FACE.height / coarse.length;
  return (
    <g>
      {coarse.flatMap((row, i) =>
        row.map((value, j) => (
          <rect
            // biome-ignore lint/suspicious/noArrayIndexKey: a cell of a grid is its place
            key={`${i} ${j}`}
            x={FACE.header + width * (inletRight ? row.length - 1 - j : j)}
            y={height * i}
            width={width + 0.5}
            height={height + 0.5}
            fill={`color-mix(in oklab, var(--pine) ${(8 + (72 * (value - low)) / span).toFixed(0)}%, var(--sheet))`}
          />
        )),
      )}
    </g>
  );
}
