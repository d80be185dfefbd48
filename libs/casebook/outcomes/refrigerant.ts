import type { Assessment, ChargeAccuracy, RefrigerantBalance } from '#libs/contracts/index.js';
import { shareOf } from './record-quality.js';
import { MINIMUM_EPISODES } from './return-rates.js';
import { type ShownShop, withheldCautions } from './shop-names.js';
import type { Period, WeighedCharge } from './shop-records.queries.js';

/** Actions after which the whole specified charge is filled. Common practice: whatever opens the circuit empties it. */
export const WHOLE_CHARGE_ACTIONS: readonly string[] = [
  'replace-filter-cartridge',
  'replace-condenser',
  'replace-compressor',
  'replace-compressor-and-condenser',
  'replace-receiver-drier',
  'replace-accumulator',
  'replace-thermostatic-valve',
  'replace-orifice-tube',
  'replace-hose',
  'replace-seals',
  'replace-evaporator',
  'recover-evacuate-charge',
];
/** Common practice: a charging machine fills to a few per cent; more than 5 % off is felt on small modern charges. */
const TOLERANCE = 0.05;
const Z95 = 1.959963984540054;

/**
 * Global warming potential over 100 years, kg CO2 a kg. R-134a: IPCC AR4 (2007) table 2.14, AR5 (2013) table 8.A.1, AR6 (2021) table 7.SM.7. R-1234yf: 4 as EU
 * regulation 517/2014 annex II has it beside AR4; AR5 gives only "below 1", for which no number is put; AR6 table 7.SM.7.
 */
export const GWP: Readonly<Record<Assessment, Readonly<Record<string, number>>>> = {
  AR4: { 'R-134a': 1430, 'R-1234yf': 4 },
  AR5: { 'R-134a': 1300 },
  AR6: { 'R-134a': 1530, 'R-1234yf': 0.501 },
};

type Shown = ReadonlyMap<string, ShownShop>;

/** Whole charges against the platform's specification, by shop and machine. */
export function chargeAccuracy(period: Period, charges: readonly WeighedCharge[], shown: Shown, withheld: number): ChargeAccuracy {
  const whole = charges.filter((one) => WHOLE_CHARGE_ACTIONS.includes(one.action) && one.specifiedG !== null && one.specifiedG > 0);
  const lines = [...byMachine(whole)]
    .flatMap((own) => {
      const { shopId, machineId, machineName } = own[0]!;
      const name = shown.get(shopId);
      if (!name) return [];
      const isOpen = name.shopId !== null;
      const errors = own.flatMap((one) => (one.chargedG === null ? [] : [(one.chargedG - one.specifiedG!) / one.specifiedG!]));
      const n = errors.length;
      const mean = n === 0 ? 0 : errors.reduce((sum, e) => sum + e, 0) / n;
      const spread = n < 2 ? 0 : Math.sqrt(errors.reduce((sum, e) => sum + (e - mean) ** 2, 0) / (n - 1));
      const half = (Z95 * spread) / Math.sqrt(Math.max(1, n));
      const isKnown = n >= MINIMUM_EPISODES;
      const within = shareOf(errors.filter((e) => Math.abs(e) <= TOLERANCE + 1e-12).length, n);
      return [
        {
          ...name,
          machineId: isOpen ? machineId : null,
          machineName: isOpen ? machineName : null,
          verdict: isKnown ? ('estimated' as const) : ('not-enough' as const),
          charges: n,
          unweighed: own.length - n,
          meanError: isKnown ? mean : null,
          low: isKnown ? mean - half : null,
          high: isKnown ? mean + half : null,
          spread: isKnown ? spread : null,
          within,
          message: isKnown ? chargeWords(mean, half) : `${n} weighed charges: too few to judge.`,
        },
      ];
    })
    .sort((a, b) => (a.within.high ?? 2) - (b.within.high ?? 2));
  const weighed = whole.filter((one) => one.chargedG !== null).length;
  return {
    since: period.since,
    until: period.until,
    tolerance: TOLERANCE,
    lines,
    withheld,
    message: `${weighed} of ${whole.length} whole charges have a recorded weight.`,
    cautions: [
      ...withheldCautions(withheld),
      'The specified charge is that of the platform; a variant with a second evaporator or a correction on its label is not known here.',
    ],
    definitions: [
      'A line is a machine, or the repairs of a shop in which none is named.',
      'Whole charges: after repairs that empty the circuit. Top-ups are not counted.',
      `Error: (charged − specified)/specified, its mean with a 95 % interval; tolerance ±${TOLERANCE * 100} % (common practice). A mean off zero points to the machine or its scale, a wide spread to the way of working.`,
      `Nothing is judged under ${MINIMUM_EPISODES} charges. Ordered by the upper end of the share within tolerance.`,
    ],
  };
}

function chargeWords(mean: number, half: number): string {
  const signed = `${mean >= 0 ? '+' : '−'}${Math.abs(mean * 100).toFixed(1)} %`;
  return Math.abs(mean) > half && Math.abs(mean) > TOLERANCE / 5
    ? `Fills ${signed} on average, more than chance: have the scale checked.`
    : `Fills ${signed} on average: no bias is shown.`;
}

/** What was recovered and charged, by shop, month and refrigerant. */
export function refrigerantBalance(
  period: Period,
  assessment: Assessment,
  charges: readonly WeighedCharge[],
  shown: Shown,
  withheld: number,
): RefrigerantBalance {
  const groups = new Map<string, WeighedCharge[]>();
  for (const one of charges) {
    const key = `${one.shopId}|${one.month}|${one.refrigerant ?? ''}`;
    const group = groups.get(key);
    if (group) group.push(one);
    else groups.set(key, [one]);
  }
  const lines = [...groups.values()]
    .flatMap((own) => {
      const { shopId, month, refrigerant } = own[0]!;
      const name = shown.get(shopId);
      if (!name) return [];
      const recoveredG = own.reduce((sum, one) => sum + (one.recoveredG ?? 0), 0);
      const chargedG = own.reduce((sum, one) => sum + (one.chargedG ?? 0), 0);
      const gwp = refrigerant === null ? undefined : GWP[assessment][refrigerant];
      return [
        {
          ...name,
          month,
          refrigerant,
          repairs: own.length,
          recoveredG,
          chargedG,
          netG: chargedG - recoveredG,
          unweighed: own.filter((one) => one.recoveredG === null && one.chargedG === null).length,
          co2eKg: gwp === undefined ? null : ((chargedG - recoveredG) / 1000) * gwp,
        },
      ];
    })
    .sort((a, b) => (a.month < b.month ? 1 : a.month > b.month ? -1 : (a.shopCode ?? '~').localeCompare(b.shopCode ?? '~')));
  const kilograms = (of: (one: WeighedCharge) => number | null) =>
    (charges.reduce((sum, one) => sum + (of(one) ?? 0), 0) / 1000).toFixed(1);
  return {
    since: period.since,
    until: period.until,
    assessment,
    lines,
    withheld,
    message: `${kilograms((one) => one.recoveredG)} kg recovered and ${kilograms((one) => one.chargedG)} kg charged in ${charges.length} repairs.`,
    cautions: [
      ...withheldCautions(withheld),
      'This is the balance of repairs, not of the shop: cylinders, purchases and shipments are not recorded here.',
      'Recovered refrigerant is never vented, by law in most places and always by certified people.',
    ],
    definitions: [
      'Net: charged less recovered. Repairs without any weight are counted, not estimated.',
      `CO2 equivalent of the net charge with the global warming potentials over 100 years of IPCC ${assessment}; null where it gives no number.`,
    ],
  };
}

function byMachine(charges: readonly WeighedCharge[]): Iterable<WeighedCharge[]> {
  const groups = new Map<string, WeighedCharge[]>();
  for (const one of charges) {
    const key = `${one.shopId}|${one.machineId ?? ''}`;
    const group = groups.get(key);
    if (group) group.push(one);
    else groups.set(key, [one]);
  }
  return groups.values();
}
