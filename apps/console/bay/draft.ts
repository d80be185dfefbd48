import { useEffect, useState } from 'react';
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
} from '../client/generated/api.ts';
import type { PressureUnit, TemperatureUnit } from './quantities.ts';
import { ALL_SLOTS } from './slots.ts';

/** What a technician has typed so far, as typed. */
export interface Draft {
  readonly vin: string;
  readonly platformId: string;
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
};

const SLOT = 'coolback.draft';

/** The draft survives a reload and a lost connection; it stays in this tab because it holds a VIN. */
export function useDraft(): [Draft, (parts: Partial<Draft>) => void] {
  const [draft, setDraft] = useState<Draft>(() => {
    try {
      return { ...EMPTY, ...(JSON.parse(sessionStorage.getItem(SLOT) ?? '{}') as Partial<Draft>) };
    } catch {
      return EMPTY;
    }
  });
  useEffect(() => sessionStorage.setItem(SLOT, JSON.stringify(draft)), [draft]);
  return [draft, (parts) => setDraft((before) => ({ ...before, ...parts }))];
}

/** A number as people type it: comma or point. Null for empty or unreadable text. */
export function numberOf(typed: string): number | null {
  const plain = typed.trim().replace(',', '.');
  if (plain === '' || !/^[-+]?\d*\.?\d+$/.test(plain)) return null;
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
  return { conditions, readings, findings: draft.findings.map((code) => ({ code })) };
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
