import { z } from 'zod';
import {
  FINDING_CODES,
  INSTRUMENTS,
  PLACES,
  PRESSURE_REFERENCES,
  READING_MEANINGS,
  READING_PHASES,
  READING_QUANTITIES,
  READING_STAGES,
} from '#libs/vocabulary/index.js';
import { Quantity } from './quantity.js';
import { RepairAction, RepairIntent } from './repair.js';
import { finite, Instant, text, whole } from './text.js';

export const Place = z.enum(PLACES).meta({
  id: 'Place',
  description: 'Place of a reading. Ports and transducers stand where the platform says they sit.',
});
export type Place = z.infer<typeof Place>;

export const ReadingQuantity = z.enum(READING_QUANTITIES).meta({ id: 'ReadingQuantity' });
export type ReadingQuantity = z.infer<typeof ReadingQuantity>;

export const ReadingPhase = z
  .enum(READING_PHASES)
  .meta({ id: 'ReadingPhase', description: 'Compressor off (rest) or on (running) when the value was taken.' });
export const ReadingStage = z
  .enum(READING_STAGES)
  .meta({ id: 'ReadingStage', description: 'Before any repair of this visit, or after it (proving the repair).' });
export const Instrument = z.enum(INSTRUMENTS).meta({ id: 'Instrument' });
export type Instrument = z.infer<typeof Instrument>;
export const PressureReference = z
  .enum(PRESSURE_REFERENCES)
  .meta({ id: 'PressureReference', description: 'What zero means. Sealed gauges and many transducers were zeroed at sea level.' });
export type PressureReference = z.infer<typeof PressureReference>;

/**
 * What a value means besides its quantity and place, where these do not say it: the mass drawn out, the stroke command,
 * the air share an identifier shows. Absent for ordinary pressures, temperatures and speeds.
 */
export const ReadingMeaning = z.enum(READING_MEANINGS).meta({ id: 'ReadingMeaning' });
export type ReadingMeaning = z.infer<typeof ReadingMeaning>;

/** One value as it was read. Unknown place, phase or instrument are allowed: they are inferred or integrated over, never defaulted. */
export const NewReading = z
  .strictObject({
    quantity: ReadingQuantity,
    place: Place.optional(),
    phase: ReadingPhase.optional(),
    stage: ReadingStage.optional().describe('Absent means before any repair'),
    instrument: Instrument.optional(),
    meaning: ReadingMeaning.optional(),
    reference: PressureReference.optional().describe('Pressures only; absent means unknown'),
    value: finite(-1e6, 1e6),
    to: finite(-1e6, 1e6).optional().describe('Other end of the span when the needle swings'),
    unit: z.string().min(1).max(24).describe('UCUM code, e.g. [psi], bar, kPa, Cel, [degF]'),
    at: Instant.optional(),
    confirmed: z.boolean().optional().describe('The technician looked again and stands by an unlikely value'),
  })
  .meta({ id: 'NewReading', description: 'One value as it was read.' });
export type NewReading = z.infer<typeof NewReading>;

/** A stored reading: as typed, with its identity in the case and its value in SI (kelvin, pascal, kilogram, per second, seconds, ratio). */
export const Reading = NewReading.extend({
  id: z.string().max(40).describe('Identity of the reading within its case'),
  si: z.number().describe('The value in SI; pressures keep their own reference'),
  siUnit: z.string(),
}).meta({ id: 'Reading', description: 'A stored reading: as typed, and in SI.' });
export type Reading = z.infer<typeof Reading>;

export const FindingCode = z.enum(FINDING_CODES).meta({ id: 'FindingCode', description: 'Something seen, heard or felt.' });
export type FindingCode = z.infer<typeof FindingCode>;

export const NewFinding = z
  .strictObject({
    code: FindingCode,
    place: Place.optional(),
    stage: ReadingStage.optional(),
    note: text(500).optional(),
    at: Instant.optional(),
  })
  .meta({ id: 'NewFinding' });
export type NewFinding = z.infer<typeof NewFinding>;
export const Finding = NewFinding.extend({ id: z.string().max(40) }).meta({ id: 'Finding' });
export type Finding = z.infer<typeof Finding>;

/** What the test was made in. Everything is optional: unknown conditions are integrated over, never defaulted. */
export const Conditions = z
  .strictObject({
    outsideAir: Quantity.optional().describe('Air temperature outside'),
    condenserAir: Quantity.optional().describe('Air temperature at the condenser grille'),
    evaporatorAir: Quantity.optional().describe('Air temperature at the evaporator inlet'),
    relativeHumidity: Quantity.optional().describe('Relative humidity at the evaporator inlet, %'),
    barometer: Quantity.optional(),
    barometerKind: z
      .enum(['station', 'sea-level', 'unknown'])
      .meta({ id: 'BarometerKind' })
      .optional()
      .describe('A weather report is reduced to sea level; a barometer on the wall usually is not'),
    engineSpeed: Quantity.optional(),
    compressorSpeed: Quantity.optional(),
    airSource: z.enum(['outside', 'recirculated', 'partial']).meta({ id: 'AirSource' }).optional(),
    blower: finite(0, 1).optional().describe('Blower step as a share of full'),
    doorsOpen: z.boolean().optional(),
    shopFan: z.boolean().optional(),
    minutesRunning: finite(0, 600).optional(),
    hoursSoaked: finite(0, 1000).optional(),
    soakTemperature: Quantity.optional().describe('Uniform temperature of the parts at rest'),
    compressorCommand: finite(0, 1).optional().describe('Stroke or speed command as a share of full'),
    clutchEngaged: z.boolean().optional(),
    condenserFan: z.enum(['off', 'low', 'high', 'unknown']).meta({ id: 'FanState' }).optional(),
    roadSpeed: finite(0, 250).optional().describe('km/h while the values were taken'),
  })
  .meta({ id: 'Conditions' });
export type Conditions = z.infer<typeof Conditions>;

/** One spot of a thermal image on the condenser face: x from the inlet side (0) across (1), y from the top (0) to the bottom (1). */
export const ThermalSpot = z.strictObject({ x: finite(0, 1), y: finite(0, 1), temperature: finite(-60, 400) }).meta({ id: 'ThermalSpot' });

export const ThermalMap = z
  .strictObject({
    unit: z.enum(['Cel', '[degF]', 'K']).meta({ id: 'ThermalUnit' }),
    stage: ReadingStage.optional(),
    spots: z.array(ThermalSpot).max(200).optional(),
    rows: z
      .array(z.array(finite(-60, 400)).min(1).max(240))
      .max(240)
      .optional()
      .describe('Grid over the condenser face, top row first'),
    csv: text(400_000)
      .optional()
      .describe('The grid as CSV instead: one line a row, numbers alone. Taken apart when it is accepted, and stored as rows'),
    bareMetal: z.boolean().optional().describe('Bare aluminium misreads; say so when no tape or paint was used'),
    at: Instant.optional(),
  })
  .meta({ id: 'ThermalMap', description: 'Temperatures over the condenser face: a few spots, or a grid.' });
export type ThermalMap = z.infer<typeof ThermalMap>;

/** A pressure sampled in time. */
export const PressureTrace = z
  .strictObject({
    place: Place,
    unit: z.string().min(1).max(24),
    reference: PressureReference.optional(),
    samples: z
      .array(z.strictObject({ second: finite(0, 86_400), value: finite(-1e6, 1e6) }).meta({ id: 'TraceSample' }))
      .min(2)
      .max(20_000),
  })
  .meta({ id: 'PressureTrace' });
export type PressureTrace = z.infer<typeof PressureTrace>;

/** A repair put to the owner, and what became of it. */
export const RepairOffer = z
  .strictObject({
    action: RepairAction,
    intent: RepairIntent,
    price: finite(0, 1e6).optional(),
    outcome: z.enum(['offered', 'chosen', 'declined']).meta({ id: 'OfferOutcome' }),
    reason: text(300).optional(),
  })
  .meta({ id: 'RepairOffer' });
export type RepairOffer = z.infer<typeof RepairOffer>;

export const MAX_READINGS = 400;
export const MAX_FINDINGS = 200;

/**
 * The evidence of a case: one validated, revisioned document. Every amendment stores the next revision whole;
 * earlier revisions stay readable, and a diagnosis names the revision it answered.
 */
export const Evidence = z
  .strictObject({
    conditions: Conditions,
    readings: z.array(Reading).max(MAX_READINGS),
    findings: z.array(Finding).max(MAX_FINDINGS),
    thermalMaps: z.array(ThermalMap).max(8),
    traces: z.array(PressureTrace).max(8),
    offers: z.array(RepairOffer).max(40),
  })
  .meta({ id: 'Evidence' });
export type Evidence = z.infer<typeof Evidence>;

/** Evidence as a caller sends it. */
export const NewEvidence = z
  .strictObject({
    conditions: Conditions.optional(),
    readings: z.array(NewReading).max(MAX_READINGS).optional(),
    findings: z.array(NewFinding).max(MAX_FINDINGS).optional(),
    thermalMaps: z.array(ThermalMap).max(8).optional(),
    traces: z.array(PressureTrace).max(8).optional(),
    offers: z.array(RepairOffer).max(40).optional(),
  })
  .meta({ id: 'NewEvidence' });
export type NewEvidence = z.infer<typeof NewEvidence>;

/** Something accepted but worth a second look, e.g. an odd VIN or an unknown place. */
export const Warning = z
  .strictObject({ pointer: z.string().describe('JSON pointer into the request'), code: z.string(), detail: z.string(), remedy: z.string() })
  .meta({ id: 'Warning' });
export type Warning = z.infer<typeof Warning>;

export const EvidenceRevision = whole(1, 1_000_000);
