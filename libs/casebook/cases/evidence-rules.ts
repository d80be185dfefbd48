import type {
  Conditions,
  Evidence,
  Finding,
  NewEvidence,
  NewFinding,
  NewReading,
  Platform,
  PressureTrace,
  ProblemIssue,
  Reading,
  Warning,
} from '#libs/contracts/index.js';
import { MAX_FINDINGS, MAX_READINGS } from '#libs/contracts/index.js';
import { type JudgedReading, type JudgingContext, judgeConditions, judgeReading } from '#libs/engine/index.js';
import { CONDITION_OF_ENGINE_FIELD, engineConditions } from '../diagnosis/engine-input.js';
import { ImplausibleEvidence, TooMuchEvidence } from './cases.errors.js';
import { convert, convertReading } from './quantities.js';
import { storedMap } from './thermal-grid.js';

/**
 * From evidence as typed to evidence as stored: identities given, values in SI beside what was typed, impossible values refused all at once,
 * unlikely ones accepted with a warning.
 */
export const EMPTY_EVIDENCE: Evidence = Object.freeze({
  conditions: {},
  readings: [],
  findings: [],
  thermalMaps: [],
  traces: [],
  offers: [],
});

export interface Accepted {
  readonly evidence: Evidence;
  readonly warnings: readonly Warning[];
}

/** What plausibility is judged against; everything may be unknown. */
export function judgingContext(
  platform: Platform | null,
  barometerPa: number | undefined,
  outsideAirK: number | undefined,
): JudgingContext {
  return {
    ...(platform ? { platform: { refrigerant: platform.refrigerant, chargeKg: platform.chargeG / 1000 } } : {}),
    ...(barometerPa === undefined ? {} : { barometerPa }),
    ...(outsideAirK === undefined ? {} : { outsideAirK }),
  };
}

/**
 * The evidence after an amendment: parts that are given replace the stored part whole.
 * @throws ImplausibleEvidence listing every impossible value with its pointer.
 */
export function amendEvidence(stored: Evidence, given: NewEvidence, context: JudgingContext, pointer: string): Accepted {
  const issues: ProblemIssue[] = [];
  const warnings: Warning[] = [];
  if (given.conditions) checkConditions(given.conditions, context, `${pointer}/conditions`, issues, warnings);
  const thermalMaps = given.thermalMaps?.map((map, i) => storedMap(map, `${pointer}/thermalMaps/${i}`, issues));
  for (const [i, map] of (given.thermalMaps ?? []).entries()) {
    if (!map.spots?.length && !map.rows?.length && map.csv === undefined) {
      issues.push({
        pointer: `${pointer}/thermalMaps/${i}`,
        code: 'cases/empty_map',
        detail: 'A thermal map needs spots or rows.',
        remedy: 'Send at least one spot, or leave the map out.',
      });
    }
  }
  for (const [i, trace] of (given.traces ?? []).entries()) {
    checkTrace(trace, context, `${pointer}/traces/${i}`, issues);
  }
  const readings = given.readings ? toReadings(given.readings, [], context, `${pointer}/readings`, issues, warnings) : stored.readings;
  const findings = given.findings ? toFindings(given.findings, []) : stored.findings;
  if (issues.length > 0) throw new ImplausibleEvidence(issues);
  return {
    warnings,
    evidence: {
      conditions: given.conditions ?? stored.conditions,
      readings,
      findings,
      thermalMaps: thermalMaps ?? stored.thermalMaps,
      traces: given.traces ?? stored.traces,
      offers: given.offers ?? stored.offers,
    },
  };
}

/** The evidence with readings added. The same reading sent twice is kept once. */
export function addReadings(stored: Evidence, given: readonly NewReading[], context: JudgingContext, pointer: string): Accepted {
  const issues: ProblemIssue[] = [];
  const warnings: Warning[] = [];
  const readings = toReadings(given, stored.readings, context, pointer, issues, warnings);
  if (issues.length > 0) throw new ImplausibleEvidence(issues);
  if (readings.length > MAX_READINGS) throw new TooMuchEvidence('readings', MAX_READINGS);
  return { evidence: { ...stored, readings }, warnings };
}

/** The evidence with findings added. */
export function addFindings(stored: Evidence, given: readonly NewFinding[]): Evidence {
  const findings = toFindings(given, stored.findings);
  if (findings.length > MAX_FINDINGS) throw new TooMuchEvidence('findings', MAX_FINDINGS);
  return { ...stored, findings };
}

/** The unit of a trace, and whether what it says half of the time can be. */
function checkTrace(trace: PressureTrace, context: JudgingContext, pointer: string, issues: ProblemIssue[]): void {
  const values = trace.samples.map(({ value }) => value).sort((a, b) => a - b);
  const converted = convert(values[values.length >> 1]!, trace.unit, ['pressure'], pointer);
  if (!converted.ok) {
    issues.push(converted.issue);
    return;
  }
  const { place, reference } = trace;
  const judged = judgeReading(
    { quantity: 'pressure', place, phase: 'running', value: converted.si, ...(reference ? { reference } : {}) },
    context,
  );
  if (judged.verdict !== 'impossible') return;
  issues.push({
    pointer: `${pointer}/samples`,
    code: 'cases/impossible_value',
    detail: judged.reason,
    remedy: judged.slip ? `Looks like a slip: ${judged.slip.replaceAll('-', ' ')}.` : 'Check the values, their unit and their place.',
  });
}

function toReadings(
  given: readonly NewReading[],
  stored: readonly Reading[],
  context: JudgingContext,
  pointer: string,
  issues: ProblemIssue[],
  warnings: Warning[],
): Reading[] {
  const readings = [...stored];
  const seen = new Set(stored.map((reading) => identity(reading)));
  let next = nextIdentity('r', stored);
  for (const [i, typed] of given.entries()) {
    const at = `${pointer}/${i}`;
    const converted = convertReading(typed.quantity, typed.value, typed.unit, at);
    if (!converted.ok) {
      issues.push(converted.issue);
      continue;
    }
    const name = identity(typed);
    if (seen.has(name)) continue;
    seen.add(name);
    const judgement = judgeReading(judgedAs(typed, converted.si), context);
    if (judgement.verdict === 'impossible') {
      issues.push({
        pointer: `${at}/value`,
        code: 'cases/impossible_value',
        detail: judgement.reason,
        remedy: judgement.slip ? `Looks like a slip: ${judgement.slip.replaceAll('-', ' ')}.` : 'Check the value, its unit and its place.',
      });
      continue;
    }
    if (judgement.verdict === 'unlikely' && typed.confirmed !== true) {
      warnings.push({
        pointer: `${at}/value`,
        code: 'unlikely-value',
        detail: judgement.reason,
        remedy: `${judgement.slip ? `Perhaps ${judgement.slip.replaceAll('-', ' ')}. ` : ''}If it is right, send it with confirmed: true.`,
      });
    }
    if (typed.place === undefined && typed.meaning === undefined) {
      warnings.push({
        pointer: `${at}/place`,
        code: 'place-unknown',
        detail: 'The place of this reading is not known; the engine will consider every place it could be.',
        remedy: 'Say where it was taken if you know.',
      });
    }
    readings.push({ ...typed, id: `r${next++}`, si: converted.si, siUnit: converted.siUnit });
  }
  return readings;
}

/** The fields a reading is judged by; those that were not given are left out. */
function judgedAs({ quantity, place, phase, meaning, reference, unit, confirmed }: NewReading, si: number): JudgedReading {
  return {
    quantity,
    value: si,
    unit,
    ...(place === undefined ? {} : { place }),
    ...(phase === undefined ? {} : { phase }),
    ...(meaning === undefined ? {} : { meaning }),
    ...(reference === undefined ? {} : { reference }),
    ...(confirmed === undefined ? {} : { confirmed }),
  };
}

function toFindings(given: readonly NewFinding[], stored: readonly Finding[]): Finding[] {
  let next = nextIdentity('f', stored);
  const known = new Set(stored.map((finding) => findingIdentity(finding)));
  const added: Finding[] = [];
  for (const finding of given) {
    if (known.has(findingIdentity(finding))) continue;
    known.add(findingIdentity(finding));
    added.push({ ...finding, id: `f${next++}` });
  }
  return [...stored, ...added];
}

/** Impossible conditions become issues, unlikely ones warnings. */
function checkConditions(
  conditions: Conditions,
  context: JudgingContext,
  pointer: string,
  issues: ProblemIssue[],
  warnings: Warning[],
): void {
  for (const judged of judgeConditions(engineConditions(conditions, pointer, issues), context)) {
    const at = `${pointer}/${CONDITION_OF_ENGINE_FIELD.get(judged.field) ?? judged.field}/value`;
    const slip = judged.slip ? `Looks like a slip: ${judged.slip.replaceAll('-', ' ')}. ` : '';
    if (judged.verdict === 'impossible') {
      issues.push({ pointer: at, code: 'cases/impossible_value', detail: judged.reason, remedy: `${slip}Check the digits and the unit.` });
    } else {
      warnings.push({ pointer: at, code: 'unlikely-value', detail: judged.reason, remedy: `${slip}Look again; it is used as it stands.` });
    }
  }
}

/** None of these words holds a blank: they are codes, units, numbers and instants. */
const identity = ({ quantity, place, phase, stage, instrument, meaning, reference, value, to, unit, at }: NewReading | Reading) =>
  `${quantity} ${place} ${phase} ${stage ?? 'before'} ${instrument} ${meaning} ${reference} ${value} ${to} ${at} ${unit}`;

const findingIdentity = (finding: NewFinding | Finding) =>
  JSON.stringify([finding.code, finding.place, finding.stage ?? 'before', finding.note, finding.at]);

function nextIdentity(letter: string, stored: readonly { readonly id: string }[]): number {
  let highest = 0;
  for (const one of stored) if (one.id.startsWith(letter)) highest = Math.max(highest, Number(one.id.slice(1)) || 0);
  return highest + 1;
}
