import type { Conditions, DiagnosisQuestion, Evidence, Platform, ProblemIssue } from '#libs/contracts/index.js';
import type { EngineConditions, EngineInput, EnginePlatform, EnginePrior, OwnSound, PlatformCalibration } from '#libs/engine/index.js';
import { findUnit, toSI, type UnitKind } from '#libs/units/index.js';
import { convert } from '../cases/quantities.js';

/** Fields of the conditions that carry a unit: their kind and their name inside the engine. */
const MEASURED = {
  outsideAir: ['temperature', 'outsideAirK'],
  condenserAir: ['temperature', 'condenserAirK'],
  evaporatorAir: ['temperature', 'evaporatorAirK'],
  soakTemperature: ['temperature', 'soakTemperatureK'],
  relativeHumidity: ['ratio', 'relativeHumidity'],
  barometer: ['pressure', 'barometerPa'],
  engineSpeed: ['frequency', 'engineSpeedPerS'],
  compressorSpeed: ['frequency', 'compressorSpeedPerS'],
} as const satisfies Partial<Record<keyof Conditions, readonly [UnitKind, keyof EngineConditions]>>;

const MEASURED_FIELDS = Object.entries(MEASURED);

export const CONDITION_OF_ENGINE_FIELD: ReadonlyMap<string, keyof Conditions> = new Map(
  MEASURED_FIELDS.map(([field, [, engineField]]) => [engineField, field as keyof Conditions]),
);

/** All fields, so that conditions have one shape whatever was measured: the engine's machine code is made for one, and made again for each other. */
const NOT_MEASURED: Readonly<Record<string, undefined>> = Object.fromEntries(
  Object.values(MEASURED).map(([, field]) => [field, undefined]),
);

/** Conditions in SI; units that do not fit are added to `issues`. */
export function engineConditions(conditions: Conditions, pointer: string, issues: ProblemIssue[]): EngineConditions {
  const si: Record<string, number | undefined> = { ...NOT_MEASURED };
  for (const [field, [kind, engineField]] of MEASURED_FIELDS) {
    const given = conditions[field as keyof typeof MEASURED];
    if (given === undefined) continue;
    const converted = convert(given.value, given.unit, [kind], `${pointer}/${field}`);
    if (converted.ok) si[engineField] = converted.si;
    else issues.push(converted.issue);
  }
  return {
    ...si,
    barometerKind: conditions.barometerKind,
    airSource: conditions.airSource,
    blower: conditions.blower,
    doorsOpen: conditions.doorsOpen,
    shopFan: conditions.shopFan,
    runningS: conditions.minutesRunning === undefined ? undefined : conditions.minutesRunning * 60,
    soakedS: conditions.hoursSoaked === undefined ? undefined : conditions.hoursSoaked * 3600,
    compressorCommand: conditions.compressorCommand,
    clutchEngaged: conditions.clutchEngaged,
    condenserFan: conditions.condenserFan,
    roadSpeedMPerS: conditions.roadSpeed === undefined ? undefined : conditions.roadSpeed / 3.6,
  };
}

export function enginePlatform(platform: Platform): EnginePlatform {
  return {
    layout: platform.layout,
    compressor: platform.compressor,
    refrigerant: platform.refrigerant,
    chargeKg: platform.chargeG / 1000,
    highSidePort: platform.highSidePort,
    highSideTransducer: platform.highSideTransducer,
    lowSidePort: platform.lowSidePort,
    transducerReference: platform.transducerReference,
    reserveShare: platform.reserveShare,
    dualEvaporator: platform.dualEvaporator,
    condenserPasses: platform.condenserPasses,
    subcoolShare: platform.subcoolShare,
    coolerZones: platform.coolerZones,
  };
}

/** A system known only by the three questions: tube or valve, bottle on the condenser, compressor kind. */
export function describedPlatform(system: NonNullable<DiagnosisQuestion['system']>): EnginePlatform {
  return {
    layout: system.layout,
    compressor: system.compressor,
    refrigerant: system.refrigerant,
    chargeKg: system.chargeG === undefined ? null : system.chargeG / 1000,
  };
}

/** Everything the engine judges, from stored evidence. Readings are SI already; only the names change. Every field is there, undefined where nothing was written. */
export function engineInput(
  platform: EnginePlatform,
  elevationM: number | undefined,
  evidence: Evidence,
  about: {
    complaint?: string | undefined;
    day?: string | undefined;
    prior?: EnginePrior | undefined;
    calibration?: PlatformCalibration | null | undefined;
    ownSound?: readonly OwnSound[] | undefined;
  },
): EngineInput {
  return {
    platform,
    elevationM,
    conditions: engineConditions(evidence.conditions, '', []),
    readings: evidence.readings.map((reading) => ({
      id: reading.id,
      quantity: reading.quantity,
      value: reading.si,
      to: reading.to === undefined ? undefined : siOf(reading.to, reading.unit),
      place: reading.place,
      phase: reading.phase,
      stage: reading.stage,
      meaning: reading.meaning,
      instrument: reading.instrument,
      reference: reading.reference,
      confirmed: reading.confirmed,
    })),
    findings: evidence.findings.map((finding) => ({
      code: finding.code,
      id: finding.id,
      place: finding.place,
      stage: finding.stage,
    })),
    thermalMaps: evidence.thermalMaps.map((map) => ({
      spots: map.spots?.map((spot) => ({ x: spot.x, y: spot.y, temperatureK: siOf(spot.temperature, map.unit) })),
      rowsK: map.rows?.map((row) => row.map((value) => siOf(value, map.unit))),
      stage: map.stage,
      bareMetal: map.bareMetal,
    })),
    traces: evidence.traces.map((trace) => ({
      place: trace.place,
      reference: trace.reference,
      samples: trace.samples.map((sample) => ({ second: sample.second, pressurePa: siOf(sample.value, trace.unit) })),
    })),
    complaint: about.complaint,
    day: about.day,
    prior: about.prior,
    platformCalibration: about.calibration ?? undefined,
    ownSound: about.ownSound?.length ? about.ownSound : undefined,
  };
}

/** Units of stored evidence were checked when it was accepted. */
function siOf(value: number, unit: string): number {
  const known = findUnit(unit);
  if (!known) throw new Error(`stored evidence has the unknown unit ${unit}`);
  return toSI(value, known);
}
