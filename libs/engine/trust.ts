import { type Barometer, localBarometer, SEA_LEVEL_PA, standardPressure } from './barometer.js';
import { knownPlatform } from './calibration/platform.js';
import type { KnownVehicle } from './calibration/vehicle.js';
import { canonical } from './canonical.js';
import { restChannels, soakOf } from './channels/rest.js';
import type { EngineInput, PlatformCalibration } from './evidence.js';
import { type Measured, measure } from './measure.js';
import { seatings } from './places.js';
import { judgeReading } from './plausibility.js';
import type { TrustFinding } from './result.js';

const bar = (pa: number) => `${(pa / 1e5).toFixed(2)} bar (${(pa / 6894.757).toFixed(1)} psi)`;
const PSI10 = 68_948;

/** Whose known-good readings a platform's calibration comes from. */
function knownFrom({ cases, shops, related }: PlatformCalibration): string {
  const own = `${cases} known-good readings of this platform from ${shops} shops`;
  if (!related) return own;
  const others = `${related.platforms} other platforms of its kind`;
  if (cases > 0) return `${own}, and by ${related.cases} of ${others}`;
  return `${related.cases} known-good readings of ${others} from ${related.shops} shops; of this one there are too few`;
}

/** Whether the values of a case can be believed; works without any running reading. */
export function trustChecks(input: EngineInput): TrustFinding[] {
  const barometer = localBarometer(input.conditions, input.elevationM);
  const evidence = canonical(input, barometer.pressurePa);
  const seating = seatings(input.platform)[0]!;
  return trustOf(input, barometer, evidence, measure(input, evidence.readings, seating, barometer));
}

/** The same with what is already computed. */
export function trustOf(
  input: EngineInput,
  barometer: Barometer,
  evidence: ReturnType<typeof canonical>,
  measured: Measured,
  astray = false,
  vehicle: KnownVehicle | null = null,
): TrustFinding[] {
  const out: TrustFinding[] = [];
  const add = (code: string, level: TrustFinding['level'], readings: readonly string[], message: string, remedy: string | null = null) =>
    out.push({ code, level, readings: [...readings].sort(), message, remedy });
  const context = { platform: input.platform, barometerPa: barometer.pressurePa, outsideAirK: input.conditions.outsideAirK };

  for (const r of evidence.impossible) {
    const j = judgeReading(r, context);
    add(
      j.slip ? 'unit-slip' : 'impossible-value',
      'stop',
      [r.id],
      `${j.reason}${j.slip ? ` It would be ordinary as ${j.slip.replaceAll('-', ' ')}.` : ''}`,
      'Read it again and correct the entry; it has been left out.',
    );
  }
  for (const r of evidence.readings) {
    const j = judgeReading(r, context);
    if (j.verdict === 'unlikely')
      add(
        j.slip ? 'unit-slip' : 'unlikely-value',
        'doubt',
        [r.id],
        `${j.reason}${j.slip ? ` It would be ordinary as ${j.slip.replaceAll('-', ' ')}.` : ''}`,
        'Look once more and confirm; a confirmed value is believed.',
      );
    if (r.inferred)
      add(
        'place-inferred',
        'note',
        [r.id],
        `Place or phase was not given; it was taken as ${r.place} ${r.phase}.`,
        'State place and phase.',
      );
  }
  for (const r of evidence.unplaced) add('place-unknown', 'note', [r.id], 'A value without a place could not be used.', 'State the place.');

  const known = knownPlatform(input);
  if (known) add('platform-known', 'note', [], `What is sound here was corrected by ${knownFrom(known)}.`);
  if (vehicle) {
    const { readings, doubted } = vehicle;
    const few = readings === 1 ? 'one sound reading of an earlier visit' : `${readings} sound readings of earlier visits`;
    add('vehicle-known', 'note', [], `What is sound here was corrected by ${few} of this very vehicle.`);
    if (doubted > 0)
      add(
        'own-reading-unlike-sound',
        'doubt',
        [],
        `${readings === 1 ? 'It' : `Of these, ${doubted}`} does not look like a sound vehicle's and counts for little.`,
        'See whether a fault was overlooked at that visit.',
      );
  }
  if (astray)
    add(
      'readings-apart',
      'doubt',
      evidence.readings.map((r) => r.id),
      'The readings fit nothing together: no fault of the catalogue, and no single wild reading, explains all of them at once.',
      'See that all are of this vehicle, of one visit and of the places written, and read again.',
    );
  barometerChecks(input, barometer, add);
  restChecks(input, measured, barometer, add);
  runningChecks(input, measured, add);
  return out.sort(
    (a, b) =>
      ORDER[a.level] - ORDER[b.level] ||
      (a.code < b.code ? -1 : a.code > b.code ? 1 : 0) ||
      ((a.readings[0] ?? '') < (b.readings[0] ?? '') ? -1 : 1),
  );
}

const ORDER = { stop: 0, doubt: 1, note: 2, ok: 3 } as const;
type Add = (code: string, level: TrustFinding['level'], readings: readonly string[], message: string, remedy?: string | null) => void;

function barometerChecks(input: EngineInput, barometer: Barometer, add: Add): void {
  const given = input.conditions.barometerPa;
  if (given !== undefined && input.elevationM !== undefined) {
    const expected = standardPressure(input.elevationM);
    if (barometer.source === 'reduced') {
      add(
        'barometer-reduced',
        'note',
        [],
        `A barometer of ${(given / 3386.389).toFixed(1)} inHg at ${input.elevationM.toFixed(0)} m is a value reduced to sea level; the air here weighs ${(barometer.pressurePa / 3386.389).toFixed(1)} inHg.`,
        'Enter a station barometer or leave it to the elevation.',
      );
    } else if (Math.abs(given - expected) > 3_500) {
      add(
        'barometer-elevation',
        'doubt',
        [],
        `The barometer (${(given / 3386.389).toFixed(1)} inHg) does not fit ${input.elevationM.toFixed(0)} m, where ${(expected / 3386.389).toFixed(1)} inHg is usual.`,
        barometer.looksReduced ? 'A weather report is reduced to sea level.' : 'Check barometer and elevation.',
      );
    }
  }
  if (barometer.source === 'unknown') {
    add(
      'barometer-unknown',
      'note',
      [],
      'Neither barometer nor elevation is known; gauge pressures carry an extra uncertainty of about 0.05 bar.',
      'Give the shop its elevation.',
    );
  }
}

function restChecks(input: EngineInput, measured: Measured, barometer: Barometer, add: Add): void {
  const { rest } = measured;
  const ids = rest.readings.map((p) => p.id);
  if (rest.differencePa !== null) {
    const untested = rest.readings.some((p) => p.unknownReference);
    if (untested && measured.transducerReference !== 'vented-gauge') {
      const words = measured.transducerReference === 'absolute' ? 'absolute' : 'zeroed at sea level';
      add(
        'transducer-reference',
        'note',
        ids,
        `The transducer agrees with the gauge at rest only when its value is ${words}; it was read so.`,
        'Record the reference with the platform.',
      );
    }
    const d = Math.abs(rest.differencePa);
    if (d <= PSI10)
      add('rest-agreement', 'ok', ids, `Gauge and transducer agree at rest within ${bar(d)}; about 10 psi is common practice.`);
    else {
      const sealed = SEA_LEVEL_PA - barometer.pressurePa;
      const asReference = [barometer.pressurePa, sealed].some((shift) => Math.abs(d - shift) < 15_000);
      add(
        'rest-disagreement',
        'doubt',
        ids,
        `Gauge and transducer differ by ${bar(rest.differencePa)} at rest, where they must agree${asReference ? '; that is what a mistaken pressure reference gives' : ''}.`,
        'Compare a second gauge at rest and check the reference; the difference was taken out of the running values.',
      );
    }
  } else if (
    measured.running.some((p) => p.device === 'transducer') &&
    measured.running.some((p) => p.device === 'gauge' && p.side === 'high')
  ) {
    add(
      'rest-missing',
      'note',
      [],
      'Gauge and transducer were not compared at rest, so a bias cannot be told from a pressure drop with certainty.',
      'Read both with the compressor off and the pressures equalised.',
    );
  }
  if (rest.sidesPa !== null && Math.abs(rest.sidesPa) > 50_000) {
    add(
      'not-equalised',
      'doubt',
      ids,
      `Low and high side differ by ${bar(rest.sidesPa)} at rest: not yet equalised, or one port is not open.`,
      'Wait some minutes and read both again.',
    );
  }
  const soak = soakOf(input);
  if (rest.readings.length > 0 && !soak) {
    add(
      'rest-temperature-missing',
      'note',
      ids,
      'Without the temperature of the parts a pressure at rest cannot be held against saturation.',
      'Measure the temperature of condenser and evaporator.',
    );
  } else if (rest.readings.length > 0 && soak && !soak.soaked) {
    add(
      'not-soaked',
      'note',
      ids,
      'The parts are not at one temperature: no verdict on air.',
      'Let the vehicle stand about eight hours, or read part temperatures that agree within 1 K.',
    );
  } else if (soak?.soaked) {
    const channel = restChannels(input, measured, barometer).find((c) => c.observation === 'static-excess');
    if (channel?.seen != null && Math.abs(channel.seen) <= 2 * channel.tolerance!) {
      add(
        'static-saturation',
        'ok',
        channel.readings,
        `At rest the pressure is within ${bar(Math.abs(channel.seen))} of saturation: no sign of air, liquid is left.`,
      );
    }
  }
}

function runningChecks(input: EngineInput, measured: Measured, add: Add): void {
  const low = measured.running.filter((p) => p.side === 'low' && p.device === 'gauge');
  const high = measured.running.filter((p) => p.side === 'high' && p.device === 'gauge');
  if (low.length > 0 && high.length > 0) {
    const gap = high[0]!.pa - low[0]!.pa;
    const ids = [low[0]!.id, high[0]!.id];
    const transducer = measured.running.find((p) => p.device === 'transducer' && p.side === 'high');
    if (Math.abs(gap) < 60_000) {
      const apart = transducer !== undefined && transducer.pa - high[0]!.pa > 200_000;
      add(
        'equal-while-running',
        apart ? 'stop' : 'doubt',
        ids,
        apart
          ? 'Both gauges show the same while the vehicle’s transducer shows a working high side: the hand valves of the manifold are open.'
          : 'Both sides show the same while running: hand valves open, or the compressor does not pump.',
        'Close both hand valves and read again.',
      );
    } else if (gap < 0) {
      add('sides-swapped', 'stop', ids, 'The low side reads higher than the high side.', 'Check which hose is on which port.');
    }
  }
  const minutes = input.conditions.runningS === undefined ? null : input.conditions.runningS / 60;
  if (minutes !== null && minutes < 5 && measured.running.length > 0) {
    add(
      'unsettled',
      'doubt',
      measured.running.map((p) => p.id),
      `Read after ${minutes.toFixed(0)} minutes; pressures and vents still move before about ten.`,
      'Read again after ten minutes.',
    );
  }
  if (measured.samePlacePa !== null && Math.abs(measured.samePlacePa.value) > PSI10) {
    add(
      'same-place-disagreement',
      'doubt',
      measured.samePlacePa.ids,
      `Gauge and transducer sit at the same place yet differ by ${bar(measured.samePlacePa.value)} running.`,
      'Check the places of port and transducer, then the instruments.',
    );
  }
}
