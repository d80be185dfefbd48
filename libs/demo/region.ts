import type { FaultCode, NewPlatform, NewShop } from '#libs/contracts/index.js';

/**
 * An invented region: no shop, make, platform or person in it is real. Numbers are plausible and nothing more; what a visitor can find in it
 * was planted, and is listed in docs/demo.md.
 */
export const DEMO_ORGANISATION = { orgId: '01980000-0000-7000-8000-00000000de30', name: 'Demo region', slug: 'demo-region' } as const;

/** Monthly means of three climates, °C, January first; the spread of daily means within a month is about 4 K (common practice). */
const CLIMATES = {
  coast: [11, 12, 14, 16, 19, 23, 26, 27, 24, 20, 15, 12],
  plain: [6, 8, 12, 15, 20, 25, 29, 28, 24, 18, 11, 7],
  highland: [1, 2, 5, 8, 13, 18, 22, 21, 17, 11, 5, 2],
} as const;
type Climate = keyof typeof CLIMATES;

const shop = (code: string, name: string, climate: Climate, elevationM: number, labourRate: number): NewShop => ({
  code,
  name,
  elevationM,
  timeZone: 'Europe/Madrid',
  // The standard atmosphere cools 6.5 K a kilometre; the means above hold for 50, 300 and 1,500 m.
  normals: CLIMATES[climate].map((meanC) => ({
    meanC: Math.round((meanC - 0.0065 * (elevationM - { coast: 50, plain: 300, highland: 1500 }[climate])) * 10) / 10,
    sdC: climate === 'coast' ? 3.2 : 4.2,
  })),
  currency: 'EUR',
  labourRate,
});

export const DEMO_SHOPS: readonly NewShop[] = [
  shop('harbour-road', 'Harbour Road', 'coast', 4, 62),
  shop('lighthouse', 'Lighthouse Garage', 'coast', 18, 58),
  shop('salt-pans', 'Salt Pans', 'coast', 9, 55),
  shop('ferry-lane', 'Ferry Lane', 'coast', 35, 60),
  shop('mill-street', 'Mill Street', 'plain', 240, 52),
  shop('grain-market', 'Grain Market', 'plain', 310, 50),
  shop('station-yard', 'Station Yard', 'plain', 365, 54),
  shop('orchard', 'Orchard Works', 'plain', 520, 48),
  shop('slate-quarry', 'Slate Quarry', 'highland', 1240, 47),
  shop('pass-road', 'Pass Road', 'highland', 1820, 49),
  shop('high-meadow', 'High Meadow', 'highland', 2300, 51),
];

/** The shop whose work returns more often than its case mix explains. */
export const WEAK_SHOP = 'grain-market';
/** The shop whose charging machine fills more than it shows, by this share. */
export const FULL_SCALE = { shop: 'salt-pans', share: 0.06 } as const;
/** The month before the end of the data in which seals of one build range begin to leak. */
export const EMERGING = { platform: 'tern-d', fault: 'undercharge' as FaultCode, firstYear: 2022, monthsBeforeEnd: 5 };
/** Platforms whose compressors shed debris: wear is followed by clogged condensers and cartridges. */
export const DEBRIS_PLATFORMS: ReadonlySet<string> = new Set(['heron-c', 'heron-d', 'plover-b']);

const platform = (
  code: string,
  name: string,
  family: string,
  parts: Pick<NewPlatform, 'layout' | 'compressor' | 'refrigerant' | 'chargeG'> & Partial<NewPlatform>,
  vinStart: string,
): NewPlatform => ({
  code,
  name,
  family,
  reserveShare: parts.layout === 'orifice-accumulator' ? 0.25 : 0.18,
  highSidePort: 'liquid-line-after-drier',
  highSideTransducer: 'compressor-discharge',
  lowSidePort: 'compressor-suction',
  transducerReference: 'sealed-gauge',
  dualEvaporator: false,
  condenserPasses: 3,
  subcoolShare: parts.layout === 'valve-integral-receiver' ? 0.22 : 0,
  coolerZones: [],
  firstYear: 2012,
  lastYear: 2024,
  vinPatterns: [`${vinStart}?????`],
  ...parts,
});

const OT = 'orifice-accumulator';
const RD = 'valve-receiver';
const IR = 'valve-integral-receiver';

export const DEMO_PLATFORMS: readonly NewPlatform[] = [
  platform('heron-c', 'Heron C', 'heron', { layout: IR, compressor: 'variable-commanded', refrigerant: 'R-134a', chargeG: 540 }, '9HC'),
  platform(
    'heron-d',
    'Heron D',
    'heron',
    { layout: IR, compressor: 'variable-commanded', refrigerant: 'R-1234yf', chargeG: 500, firstYear: 2017 },
    '9HD',
  ),
  platform(
    'heron-van',
    'Heron Van',
    'heron',
    { layout: IR, compressor: 'variable', refrigerant: 'R-134a', chargeG: 780, dualEvaporator: true },
    '9HV',
  ),
  platform('plover-a', 'Plover A', 'plover', { layout: RD, compressor: 'fixed-clutch', refrigerant: 'R-134a', chargeG: 620 }, '9PA'),
  platform('plover-b', 'Plover B', 'plover', { layout: IR, compressor: 'fixed-clutch', refrigerant: 'R-134a', chargeG: 560 }, '9PB'),
  platform(
    'plover-truck',
    'Plover Truck',
    'plover',
    { layout: OT, compressor: 'fixed-clutch', refrigerant: 'R-134a', chargeG: 910 },
    '9PT',
  ),
  platform(
    'tern-b',
    'Tern B',
    'tern',
    {
      layout: RD,
      compressor: 'variable',
      refrigerant: 'R-134a',
      chargeG: 480,
      highSidePort: 'compressor-discharge',
      highSideTransducer: 'liquid-line-before-drier',
    },
    '9TB',
  ),
  platform(
    'tern-d',
    'Tern D',
    'tern',
    { layout: IR, compressor: 'variable-commanded', refrigerant: 'R-1234yf', chargeG: 460, firstYear: 2018 },
    '9TD',
  ),
  platform(
    'tern-e',
    'Tern E',
    'tern',
    { layout: IR, compressor: 'electric', refrigerant: 'R-1234yf', chargeG: 850, firstYear: 2019 },
    '9TE',
  ),
  platform(
    'egret-t',
    'Egret T',
    'egret',
    {
      layout: OT,
      compressor: 'fixed-clutch',
      refrigerant: 'R-134a',
      chargeG: 820,
      highSidePort: 'liquid-line-before-drier',
      highSideTransducer: 'liquid-line-before-drier',
    },
    '9ET',
  ),
  platform('egret-s', 'Egret S', 'egret', { layout: OT, compressor: 'variable', refrigerant: 'R-134a', chargeG: 680 }, '9ES'),
  platform(
    'egret-x',
    'Egret X',
    'egret',
    { layout: OT, compressor: 'fixed-clutch', refrigerant: 'R-1234yf', chargeG: 720, firstYear: 2018 },
    '9EX',
  ),
  platform(
    'dunlin-m',
    'Dunlin M',
    'dunlin',
    { layout: RD, compressor: 'electric', refrigerant: 'R-134a', chargeG: 590, firstYear: 2015 },
    '9DM',
  ),
  platform(
    'dunlin-city',
    'Dunlin City',
    'dunlin',
    { layout: RD, compressor: 'fixed-clutch', refrigerant: 'R-1234yf', chargeG: 430, firstYear: 2017 },
    '9DC',
  ),
];
