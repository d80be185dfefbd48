import type { ReactNode } from 'react';
import {
  type DiagnosisResult,
  type FaultProbability,
  type HypothesisCode,
  type Layout,
  type LedgerLine,
  type Platform,
  type PressureTrace,
  type Severity,
  type ThermalMap,
} from '../client/generated/api.ts';
import { inSentence, percent } from '../shell/words.ts';
import { Circuit, type IdentifiedReading } from './circuit.tsx';
import { FaceAnswer } from './face-answer.tsx';
import { seenAndExpected, type Units } from './quantities.ts';
import { TraceAnswer } from './trace-plot.tsx';

interface Props {
  readonly result: DiagnosisResult;
  readonly readings: readonly IdentifiedReading[];
  readonly platform: Platform | null;
  readonly layout: Layout | null;
  readonly maps: readonly ThermalMap[];
  readonly traces: readonly PressureTrace[];
  readonly units: Units;
  /** The pressure-enthalpy diagram, asked in the page's own way. */
  readonly cycle: ReactNode;
}

const LEVELS = { ok: 'fine', note: 'note', doubt: 'doubtful', stop: 'stop' } as const;
const LEVEL_ORDER = ['stop', 'doubt', 'note', 'ok'];
const SHOWN = 4;

/** The engine's answer in the order a technician needs it: can the values be trusted, what is it, where, what to test, what to mind. */
export function Answer({ result, readings, platform, layout, maps, traces, units, cycle }: Props) {
  const trust = [...result.trust].sort((a, b) => LEVEL_ORDER.indexOf(a.level) - LEVEL_ORDER.indexOf(b.level));
  return (
    <>
      <section className="sheet stack" aria-label="Can the values be trusted?">
        <h2>Can the values be trusted?</h2>
        {trust.length === 0 ? (
          <p className="quiet">Nothing here could be checked. Readings at rest, at two places, would let the gauges be compared.</p>
        ) : (
          <ul className="trust">
            {trust.map(({ code, level, message, remedy, readings: of }) => (
              <li key={`${code} ${of.join()}`}>
                <span className={`level level-${level}`}>{LEVELS[level]}</span>
                <span>
                  {message} {remedy}
                </span>
              </li>
            ))}
          </ul>
        )}
      </section>
      <section className="sheet stack verdict" aria-label="What it is">
        <h2>{result.status === 'cannot-tell' ? 'These readings cannot tell' : 'What it is'}</h2>
        <p>{result.status === 'cannot-tell' ? (result.reason ?? result.summary) : result.summary}</p>
        {result.contradictions.length === 0 ? null : (
          <ul className="bullets">
            {result.contradictions.map((one) => (
              <li key={one}>{one}</li>
            ))}
          </ul>
        )}
      </section>
      <section className="sheet" aria-label="Where">
        <h2>Where</h2>
        <Circuit result={result} readings={readings} platform={platform} layout={layout} units={units} />
      </section>
      {cycle}
      <FaceAnswer picture={result.thermal ?? null} maps={maps} platform={platform} layout={layout} units={units} />
      <TraceAnswer traces={traces} pictures={result.traces ?? []} />
      {result.faults.length === 0 ? null : <Explanations result={result} readings={readings} units={units} />}
      {result.nextTests.length === 0 ? null : (
        <section className="sheet stack" aria-label="Next tests">
          <h2>Worth testing next</h2>
          <ol className="tests">
            {result.nextTests.slice(0, 4).map(({ code, name, why, how, handsOnMinutes, waitMinutes, destroysEvidence }) => (
              <li key={code}>
                <strong>{name}</strong>{' '}
                <span className="quiet">
                  ({handsOnMinutes} min of work{waitMinutes > 0 ? `, ${waitMinutes} min of waiting` : ''})
                </span>
                <br />
                {how} <span className="quiet">{why}</span>
                {destroysEvidence ? <strong> Do this last: it destroys evidence.</strong> : null}
              </li>
            ))}
          </ol>
        </section>
      )}
      {result.cautions.length === 0 ? null : (
        <section className="sheet stack state-warning" aria-label="Cautions">
          <h2>Before you open anything</h2>
          <ul className="bullets">
            {result.cautions.map(({ code, text }) => (
              <li key={code}>{text}</li>
            ))}
          </ul>
        </section>
      )}
      <section className="sheet stack" aria-label="For the owner">
        <h2>For the owner of the car</h2>
        <p className="owner">{result.ownerParagraph}</p>
      </section>
      <details>
        <summary>What these readings cannot show</summary>
        <div className="stack">
          <p>
            {result.unseen.length === 0
              ? 'Every fault of the catalogue could show in them.'
              : `Not visible in them: ${result.unseen.map(inSentence).join(', ')}.`}
          </p>
          <p>Not part of the engine’s picture: {result.notModelled.join('; ')}.</p>
          <p className="quiet">Engine {result.engineVersion}.</p>
        </div>
      </details>
    </>
  );
}

interface ExplanationsProps {
  readonly result: DiagnosisResult;
  readonly readings: readonly IdentifiedReading[];
  readonly units: Units;
}

function Explanations({ result, readings, units }: ExplanationsProps) {
  const byId = new Map(readings.map((reading) => [reading.id, reading]));
  const shown = result.faults.filter(({ probability }, i) => i < SHOWN && (i < 2 || probability >= 0.01));
  const rest = result.faults.slice(shown.length).filter(({ probability }) => probability >= 0.005);
  const alike = result.alike?.find((codes) => codes.some((code) => code === result.faults[0]?.code));
  return (
    <section className="sheet stack" aria-label="Explanations">
      <h2>Explanations, most probable first</h2>
      {result.tied.length > 1 ? <p className="quiet">These readings do not separate {result.tied.map(inSentence).join(' and ')}.</p> : null}
      {alike ? <p className="quiet">Readings of this kind cannot tell apart {alike.map(inSentence).join(' or ')}.</p> : null}
      <ol className="explanations">
        {shown.map((fault) => (
          <li className="explanation" key={`${fault.code} ${fault.cascade}`}>
            <div className="head">
              <strong>{fault.name}</strong>
              <span className="share" aria-hidden="true">
                <span style={{ width: percentWidth(fault.probability) }} />
              </span>
              <b>{percent(fault.probability)}</b>
            </div>
            <p className="quiet">{extent(fault)}</p>
            <Evidence code={fault.code} ledger={result.ledger} of={(line) => seenAndExpected(line, byId, units)} />
          </li>
        ))}
      </ol>
      {rest.length === 0 ? null : (
        <p className="quiet">Less likely: {rest.map(({ name, probability }) => `${name} ${percent(probability)}`).join(', ')}.</p>
      )}
    </section>
  );
}

const percentWidth = (share: number) => `${(100 * share).toFixed(1)}%`;
const span = ({ value, low, high }: Severity) => `about ${percent(value)} (${percent(low)} to ${percent(high)})`;

function extent({ severity, capacityLost, cascade }: FaultProbability): string {
  return [
    severity ? `Severity ${span(severity)}.` : '',
    capacityLost ? `Cooling lost ${span(capacityLost)}.` : '',
    cascade ? `Brought about by ${inSentence(cascade)} still in place.` : '',
  ]
    .filter(Boolean)
    .join(' ');
}

const SIZE_WORDS = {
  'strong-for': 'strongly',
  for: 'clearly',
  'slight-for': 'slightly',
  'slight-against': 'slightly',
  against: 'clearly',
  'strong-against': 'strongly',
  neutral: '',
} as const;
const SIZE_ORDER = ['strong-for', 'for', 'slight-for', 'neutral', 'slight-against', 'against', 'strong-against'];

interface EvidenceProps {
  readonly code: HypothesisCode;
  readonly ledger: readonly LedgerLine[];
  readonly of: (line: LedgerLine) => { seen: string | null; expected: string | null };
}

/** What speaks for an explanation and what against, by size in words. */
function Evidence({ code, ledger, of }: EvidenceProps) {
  const weighed = ledger
    .map((line) => ({ line, size: line.weights.find((weight) => weight.code === code)?.size ?? 'neutral' }))
    .sort((a, b) => SIZE_ORDER.indexOf(a.size) - SIZE_ORDER.indexOf(b.size));
  const sides = [
    { name: 'Speaks for it', lines: weighed.filter(({ size }) => size.endsWith('for')) },
    { name: 'Speaks against it', lines: weighed.filter(({ size }) => size.endsWith('against')).reverse() },
  ];
  return (
    <div className="for-against">
      {sides.map(({ name, lines }) => (
        <div key={name}>
          <h3>{name}</h3>
          {lines.length === 0 ? (
            <p className="quiet">nothing read here</p>
          ) : (
            <ul>
              {lines.map(({ line, size }) => {
                const { seen, expected } = of(line);
                return (
                  <li key={`${line.observation} ${line.readings.join()}`}>
                    <em>{SIZE_WORDS[size]}</em>: {line.label}
                    {seen === null ? '' : `, ${seen}`}
                    {expected === null ? '' : ` (healthy ${expected})`}
                  </li>
                );
              })}
            </ul>
          )}
        </div>
      ))}
    </div>
  );
}
