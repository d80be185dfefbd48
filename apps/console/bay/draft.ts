import { useMemo } from 'react';
import type {
  Complaint,
  CompressorKind,
  Conditions,
  DiagnosisQuestion,
  FindingCode,
  Layout,
  NewCase,
  NewEvidence,
  NewReading,
  Place,
  Platform,
  RefrigerantName,
  Shop,
  ThermalMap,
} from '../client/generated/api.ts';
import { useKept } from './kept.ts';
import type { PressureUnit, TemperatureUnit } from './quantities.ts';
import { ALL_SLOTS } from './slots.ts';
import type { Sample } from './trace.ts';

/** What a technician has typed so far, as typed. */
export interface Draft {
  readonly vin: string;
  readonly platformId: string;
  /** Chosen by a person, so that a VIN no longer changes it. */
  readonly platformByHand: boolean;
  readonly modelYear: string;
  readonly odometerKm: string;
  readonly layout: Layout | '';
  readonly compressor: CompressorKind | '';
  readonly refrigerant: RefrigerantName | '';
  readonly gaugeAt: Place | '';
  readonly transducerAt: Place | '';
  readonly shopId: string;
  readonly elevationM: string;
  readonly complaint: Complaint;
  readonly pressureUnit: PressureUnit;
  readonly temperatureUnit: TemperatureUnit;
  readonly values: Readonly<Record<string, string>>;
  readonly others: readonly OtherReading[];
  readonly outsideAir: string;
  readonly humidity: string;
  readonly airSource: NonNullable<Conditions['airSource']> | '';
  readonly minutesRunning: string;
  readonly hoursSoaked: string;
  readonly soakTemperature: string;
  readonly condenserFan: NonNullable<Conditions['condenserFan']> | '';
  readonly engineSpeed: string;
  readonly findings: readonly FindingCode[];
  readonly face: DraftFace;
  readonly traceAt: DraftTrace['place'];
  readonly traces: readonly DraftTrace[];
}

/** Temperatures of the condenser face as typed: by place ("x y", shares from the gas-in side and from the top), or a grid read from a file. */
export interface DraftFace {
  readonly spots: Readonly<Record<string, string>>;
  readonly grid: number[][] | null;
  readonly inletRight: boolean;
  readonly bareMetal: boolean;
}

export interface DraftTrace {
  readonly id: string;
  readonly place: Extract<Place, 'low-side-port' | 'high-side-port' | 'high-side-transducer'>;
  readonly unit: PressureUnit;
  readonly samples: readonly Sample[];
}

export interface OtherReading {
  readonly id: string;
  readonly quantity: NewReading['quantity'];
  readonly place: Place | '';
  readonly phase: NonNullable<NewReading['phase']> | '';
  readonly value: string;
  readonly unit: string;
}

export const EMPTY: Draft = {
  vin: '',
  platformId: '',
  platformByHand: false,
  modelYear: '',
  odometerKm: '',
  layout: '',
  compressor: '',
  refrigerant: '',
  gaugeAt: '',
  transducerAt: '',
  shopId: '',
  elevationM: '',
  complaint: 'cools-poorly',
  pressureUnit: '[psi]',
  temperatureUnit: 'Cel',
  values: {},
  others: [],
  outsideAir: '',
  humidity: '',
  airSource: '',
  minutesRunning: '',
  hoursSoaked: '',
  soakTemperature: '',
  condenserFan: '',
  engineSpeed: '',
  findings: [],
  face: { spots: {}, grid: null, inletRight: false, bareMetal: false },
  traceAt: 'low-side-port',
  traces: [],
};

const SLOT = 'draft';

/** The draft survives a reload and a lost connection. */
export function useDraft(): [Draft, (parts: Partial<Draft>) => void] {
  const [kept, keep] = useKept<Partial<Draft>>(SLOT, EMPTY);
  // What an earlier version of the page kept may lack parts.
  const draft = useMemo(() => ({ ...EMPTY, ...kept }), [kept]);
  return [draft, (parts) => keep((before) => ({ ...before, ...parts }))];
}

/** What stays from one car to the next: the place and the units. */
export const habitsOf = ({ shopId, elevationM, pressureUnit, temperatureUnit }: Draft): Partial<Draft> => ({
  shopId,
  elevationM,
  pressureUnit,
  temperatureUnit,
});

/** A number as people type it: comma or point. Null for empty or unreadable text. */
export function numberOf(typed: string): number | null {
  const plain = typed.trim().replace(',', '.');
  if (plain === '' || !/^[-+]?(?:\d+(?:\.\d+)?|\.\d+)$/.test(plain)) return null;
  return Number(plain);
}
export const isUnreadable = (typed: string): boolean => typed.trim() !== '' && numberOf(typed) === null;

const set = <T extends object>(parts: T): Partial<T> =>
  Object.fromEntries(Object.entries(parts).filter(([, value]) => value !== undefined && value !== '' && value !== null)) as Partial<T>;
const measured = (typed: string, unit: string) => {
  const value = numberOf(typed);
  return value === null ? undefined : { value, unit };
};

/** Readings, conditions and findings of a draft. Readings keep the order of the form: their identities r1, r2 … follow it. */
export function evidenceOf(draft: Draft): NewEvidence {
  const readings: NewReading[] = [];
  for (const slot of ALL_SLOTS) {
    const value = numberOf(draft.values[slot.id] ?? '');
    if (value === null) continue;
    const { id: _id, label: _label, unit, ...what } = slot;
    const chosen = slot.place === 'high-side-port' ? draft.gaugeAt : slot.place === 'high-side-transducer' ? draft.transducerAt : '';
    readings.push({
      ...what,
      ...(draft.platformId === '' && chosen !== '' ? { place: chosen } : {}),
      value,
      unit: unit ?? (slot.quantity === 'pressure' ? draft.pressureUnit : draft.temperatureUnit),
    });
  }
  for (const other of draft.others) {
    const value = numberOf(other.value);
    if (value === null || other.unit.trim() === '') continue;
    readings.push({
      quantity: other.quantity,
      value,
      unit: other.unit.trim(),
      ...set({ place: other.place, phase: other.phase }),
    } as NewReading);
  }
  const minutes = numberOf(draft.minutesRunning);
  const hours = numberOf(draft.hoursSoaked);
  const conditions = set({
    outsideAir: measured(draft.outsideAir, draft.temperatureUnit),
    relativeHumidity: measured(draft.humidity, '%'),
    airSource: draft.airSource,
    minutesRunning: minutes,
    hoursSoaked: hours,
    soakTemperature: measured(draft.soakTemperature, draft.temperatureUnit),
    condenserFan: draft.condenserFan,
    engineSpeed: measured(draft.engineSpeed, '/min'),
  }) as Conditions;
  const thermalMaps = thermalMapsOf(draft);
  return {
    conditions,
    readings,
    findings: draft.findings.map((code) => ({ code })),
    ...(thermalMaps.length === 0 ? {} : { thermalMaps }),
    ...(draft.traces.length === 0
      ? {}
      : {
          traces: draft.traces.map(({ place, unit, samples }) => ({
            place,
            unit,
            reference: 'vented-gauge' as const,
            samples: [...samples],
          })),
        }),
  };
}

function thermalMapsOf({ face, temperatureUnit }: Draft): ThermalMap[] {
  const about = { unit: temperatureUnit, ...(face.bareMetal ? { bareMetal: true } : {}) };
  if (face.grid) return [{ ...about, rows: face.grid }];
  const spots = Object.entries(face.spots).flatMap(([place, typed]) => {
    const temperature = numberOf(typed);
    const [x, y] = place.split(' ').map(Number);
    return temperature === null ? [] : [{ x: x!, y: y!, temperature }];
  });
  return spots.length === 0 ? [] : [{ ...about, spots }];
}

export function questionOf(draft: Draft): DiagnosisQuestion {
  const elevationM = numberOf(draft.elevationM);
  const { layout, compressor, refrigerant } = draft;
  return {
    ...(draft.shopId !== '' ? { shopId: draft.shopId } : elevationM === null ? {} : { elevationM }),
    ...(draft.platformId !== ''
      ? { platformId: draft.platformId }
      : layout !== '' && compressor !== '' && refrigerant !== ''
        ? { system: { layout, compressor, refrigerant } }
        : {}),
    evidence: evidenceOf(draft),
  };
}

export function newCaseOf(draft: Draft): NewCase {
  const vin = draft.vin.trim();
  const modelYear = numberOf(draft.modelYear);
  return {
    shopId: draft.shopId,
    vehicle: {
      ...(vin === '' ? {} : { vin }),
      ...(draft.platformId === '' ? {} : { platformId: draft.platformId }),
      ...(modelYear === null ? {} : { modelYear }),
    },
    ...set({ odometer: measured(draft.odometerKm, 'km') }),
    complaint: draft.complaint,
    evidence: evidenceOf(draft),
    diagnose: true,
  };
}

/** A car high up whose port gauge reads far below its transducer, though both agreed at rest. Invented; sizes as the demo region has them. */
export function highPassExample(platforms: readonly Platform[], shops: readonly Shop[]): Partial<Draft> {
  const platform = platforms.find(({ code }) => code === 'heron-c');
  const shop = shops.find(({ code }) => code === 'pass-road');
  return {
    ...EMPTY,
    ...(platform
      ? { platformId: platform.id }
      : {
          layout: 'valve-integral-receiver',
          compressor: 'fixed-clutch',
          refrigerant: 'R-134a',
          gaugeAt: 'liquid-line-after-drier',
          transducerAt: 'compressor-discharge',
        }),
    ...(shop ? { shopId: shop.id } : { elevationM: '1800' }),
    outsideAir: '30',
    airSource: 'recirculated',
    minutesRunning: '10',
    hoursSoaked: '10',
    soakTemperature: '24',
    values: { 'rest-high': '79', 'rest-transducer': '81', 'run-low': '26', 'run-high': '150', 'run-transducer': '260' },
  };
}
