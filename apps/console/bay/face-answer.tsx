import { useId } from 'react';
import type { Layout, Platform, ThermalMap, ThermalPicture } from '../client/generated/api.ts';
import { Heads } from '../shell/heads.tsx';
import { acrossFace, FACE, Face, faceOf } from './face.tsx';
import { temperatureText, type Units } from './quantities.ts';

interface Props {
  readonly picture: ThermalPicture | null;
  readonly maps: readonly ThermalMap[];
  readonly platform: Platform | null;
  readonly layout: Layout | null;
  readonly units: Units;
}

const VERDICTS = {
  'step-inside': 'A step inside the passes',
  'step-at-cartridge': 'A step where subcooling begins',
  'no-step': 'No step',
} as const;

/** What the face of the condenser shows: the temperatures in their places, the step, and the profile against a sound one. */
export function FaceAnswer({ picture, maps, platform, layout, units }: Props) {
  const map = maps.find(({ stage }) => stage !== 'after');
  if (!map) return null;
  const face = faceOf(platform, (platform?.layout ?? layout) === 'valve-integral-receiver');
  const at = picture?.verdict === 'step-at-cartridge' ? picture.boundaryAt : picture?.verdict === 'step-inside' ? picture.stepAt : null;
  const size = picture?.verdict === 'step-at-cartridge' ? picture.boundaryStepK : picture?.stepK;
  const stepAt = at ?? null;
  return (
    <section className="sheet stack" aria-label="Condenser face">
      <h2>{picture ? VERDICTS[picture.verdict] : 'The condenser face cannot be judged yet'}</h2>
      <p>
        {picture ? picture.message : 'A step needs temperatures at four heights or more that do not lie behind another cooler.'}{' '}
        {picture && picture.leftOut > 0 ? `${picture.leftOut} temperatures behind another cooler were left out.` : ''}
      </p>
      <div className="beside even">
        <div className="face">
          <Face
            face={face}
            inletRight={false}
            grid={map.rows ?? null}
            stepAt={stepAt}
            label={`Condenser from the front. ${picture?.message ?? ''}`}
          />
          {(map.spots ?? []).map((spot) => (
            <span
              key={`${spot.x} ${spot.y} ${spot.temperature}`}
              className="face-value"
              aria-hidden="true"
              style={{
                left: `${(100 * (acrossFace(spot.x, false) + 8)) / (FACE.width + 16)}%`,
                top: `${(100 * (24 + FACE.height * spot.y)) / (FACE.height + 34)}%`,
              }}
            >
              {spot.temperature}
            </span>
          ))}
        </div>
        {picture ? <Profile picture={picture} step={stepAt} units={units} /> : null}
      </div>
      {stepAt === null ? null : <small>Striped line: {kelvins(size ?? 0, units)} more than healthy is lost across it.</small>}
      {picture ? <ProfileTable picture={picture} units={units} /> : null}
    </section>
  );
}

const kelvins = (kelvin: number, { temperature }: Units) =>
  temperature === 'Cel' ? `${kelvin.toFixed(0)} K` : `${(1.8 * kelvin).toFixed(0)} °F`;

interface ProfileProps {
  readonly picture: ThermalPicture;
  readonly step: number | null;
  readonly units: Units;
}

const WIDTH = 360;
const BOX = { left: 74, right: 14, top: 22, height: 250 } as const;

/** Temperature along the height, seen against sound. Both scales are linear; the height runs down as the condenser does. */
function Profile({ picture: { rows }, step, units }: ProfileProps) {
  const id = useId();
  const shown = (kelvin: number) => (units.temperature === 'Cel' ? kelvin - 273.15 : kelvin * 1.8 - 459.67);
  const values = rows.flatMap(({ temperatureK, healthyK }) => [shown(temperatureK), shown(healthyK)]);
  const every = Math.max(...values) - Math.min(...values) > 40 ? 20 : 10;
  const low = Math.floor(Math.min(...values) / every) * every;
  const high = Math.ceil(Math.max(...values) / every) * every || low + every;
  const x = (value: number) => BOX.left + ((value - low) / (high - low)) * (WIDTH - BOX.left - BOX.right);
  const y = (height: number) => BOX.top + BOX.height * height;
  const ticks = Array.from({ length: Math.round((high - low) / every) + 1 }, (_, i) => low + i * every);
  const path = (of: (row: ThermalPicture['rows'][number]) => number) =>
    rows.map((row, i) => `${i === 0 ? 'M' : 'L'}${x(shown(of(row))).toFixed(1)} ${y(row.height).toFixed(1)}`).join('');
  const unit = units.temperature === 'Cel' ? '°C' : '°F';
  return (
    <figure className="plot">
      <svg viewBox={`0 0 ${WIDTH} ${BOX.top + BOX.height + 58}`} role="img" aria-labelledby={id}>
        <title id={id}>Temperature by height, seen and of a sound condenser; the same in the table below.</title>
        {ticks.map((value) => (
          <g key={value}>
            <line className="grid" x1={x(value)} x2={x(value)} y1={BOX.top} y2={BOX.top + BOX.height} />
            <text className="soft" x={x(value)} y={BOX.top + BOX.height + 17} textAnchor="middle">
              {value}
            </text>
          </g>
        ))}
        {[0, 0.25, 0.5, 0.75, 1].map((height) => (
          <text key={height} className="soft" x={BOX.left - 8} y={y(height) + 4} textAnchor="end">
            {100 * height} %
          </text>
        ))}
        <line className="axis" x1={BOX.left} x2={BOX.left} y1={BOX.top} y2={BOX.top + BOX.height} />
        <text className="soft" x={(BOX.left + WIDTH - BOX.right) / 2} y={BOX.top + BOX.height + 35} textAnchor="middle">
          temperature, {unit}
        </text>
        <text className="soft" transform={`translate(12 ${BOX.top + BOX.height / 2}) rotate(-90)`} textAnchor="middle">
          height from the top
        </text>
        {step === null ? null : (
          <line className="lost" x1={BOX.left} x2={WIDTH - BOX.right} y1={y(step)} y2={y(step)} strokeWidth="3" strokeDasharray="10 5" />
        )}
        <path d={path(({ healthyK }) => healthyK)} fill="none" stroke="var(--soft)" strokeWidth="2" strokeDasharray="5 4" />
        <path d={path(({ temperatureK }) => temperatureK)} fill="none" stroke="var(--pine)" strokeWidth="2.5" />
        {rows.map((row) => (
          <g key={row.height}>
            <rect x={x(shown(row.healthyK)) - 3.5} y={y(row.height) - 3.5} width="7" height="7" fill="var(--soft)" />
            <circle cx={x(shown(row.temperatureK))} cy={y(row.height)} r="4.5" fill="var(--pine)" />
          </g>
        ))}
        <text x={BOX.left} y={BOX.top + BOX.height + 54}>
          ● seen
        </text>
        <text className="soft" x={BOX.left + 80} y={BOX.top + BOX.height + 54}>
          ■ sound
        </text>
      </svg>
    </figure>
  );
}

function ProfileTable({ picture: { rows }, units }: { readonly picture: ThermalPicture; readonly units: Units }) {
  return (
    <details>
      <summary>The same in numbers</summary>
      <table>
        <Heads of={[['Height from the top'], ['Seen', 'number'], ['Sound', 'number']]} />
        <tbody>
          {rows.map(({ height, temperatureK, healthyK }) => (
            <tr key={height}>
              <th scope="row">{(100 * height).toFixed(0)} %</th>
              <td className="number">{temperatureText(temperatureK, units.temperature)}</td>
              <td className="number">{temperatureText(healthyK, units.temperature)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      <small>
        Sound: a rule-of-thumb profile of such a condenser, laid so that it agrees above the step; not measured on this vehicle.
      </small>
    </details>
  );
}
