import type {
  Assessment,
  Cylinder,
  Entry,
  Machine,
  RefrigerantLedger,
  RefrigerantLedgerLine,
  RefrigerantName,
} from '#libs/contracts/index.js';
import { GWP } from '../outcomes/refrigerant.js';
import { type ShownShop, withheldCautions } from '../outcomes/shop-names.js';
import type { HandledDay } from './ledger.queries.js';

/** Common practice: a charging machine's scale is right to 15 g. Used where no machine of the shop says otherwise. */
const USUAL_SCALE_ERROR_G = 15;

export interface LedgerFacts {
  readonly since: string;
  readonly until: string | null;
  readonly today: string;
  readonly assessment: Assessment;
  readonly isAsked: (one: { readonly shopId: string; readonly refrigerant: RefrigerantName }) => boolean;
  readonly entries: readonly Entry[];
  readonly handled: readonly HandledDay[];
  readonly machines: readonly Machine[];
  readonly cylinders: readonly Cylinder[];
  readonly shown: ReadonlyMap<string, ShownShop>;
  readonly withheld: number;
}

interface Flow {
  bought: number;
  recovered: number;
  charged: number;
  sent: number;
  weighings: number;
}
interface DayOfStock extends Flow {
  /** What was counted at the end of the day. */
  taken: number | null;
  readonly containers: Set<string>;
  isWhole: boolean;
}
const nothing = (): Flow => ({ bought: 0, recovered: 0, charged: 0, sent: 0, weighings: 0 });

/**
 * The books of each shop and refrigerant, carried from stock take to stock take.
 *
 * opening + bought + recovered − charged − sent out − unaccounted = closing
 *
 * A stock take is the sum of what was counted on one day, at its end; what the books then say too much is unaccounted, and the books go on from what was counted.
 */
export function refrigerantLedger(facts: LedgerFacts): RefrigerantLedger {
  const { since, until, assessment, shown, withheld } = facts;
  const lines = [...stocksOf(facts)]
    .flatMap(([key, days]) => {
      const [shopId, refrigerant] = key.split('|') as [string, RefrigerantName];
      const name = shown.get(shopId);
      return name && facts.isAsked({ shopId, refrigerant }) ? linesOf(facts, shopId, refrigerant, name, days) : [];
    })
    .filter(({ month }) => month >= since.slice(0, 7) && (until === null || month < until.slice(0, 7)))
    .sort((a, b) => (a.month < b.month ? 1 : a.month > b.month ? -1 : (a.shopCode ?? '~').localeCompare(b.shopCode ?? '~')));
  const losses = lines.filter(({ verdict }) => verdict === 'loss');
  const lost = losses.reduce((sum, { unaccountedG }) => sum + (unaccountedG ?? 0), 0);
  const compared = lines.filter(({ verdict }) => verdict !== 'no-stock-take').length;
  return {
    since,
    until,
    assessment,
    lines,
    withheld,
    message:
      lines.length === 0
        ? 'No refrigerant was handled in this time.'
        : compared === 0
          ? 'No two stock takes can be compared yet: nothing can be said about what was lost.'
          : losses.length === 0
            ? `In ${compared} months with a stock take nothing is missing beyond what the scales can err.`
            : `In ${losses.length} of ${compared} months with a stock take more is missing than the scales can err: ${(lost / 1000).toFixed(2)} kg.`,
    cautions: [
      ...withheldCautions(withheld),
      'A stock take that leaves out a cylinder or a machine shows its content as missing: see missingContainers.',
      'Repairs without a recorded weight are not in the books, and appear as unaccounted.',
      'Recovered refrigerant is never vented, by law in most places and always by certified people.',
    ],
    definitions: [
      'opening + bought + recovered − charged − sent out − unaccounted = closing, in g, by shop, month and refrigerant. Recovered and charged are those of repairs, by the machine named there, else by the refrigerant of the platform.',
      'A stock take is the sum of what was counted at a shop on one day; the books go on from it. Unaccounted: what the books said more than was counted.',
      `Error: 95 % limit of the unaccounted mass from the scale error of the shop's machines (${USUAL_SCALE_ERROR_G} g where none is recorded, common practice) over all weighings between the two stock takes, independent (errorG) or all alike (worstErrorG). Bought mass is that of the invoice.`,
      `CO2 equivalent with the global warming potentials over 100 years of IPCC ${assessment}; null where it gives no number.`,
    ],
  };
}

function stocksOf({ entries, handled }: LedgerFacts): Map<string, Map<string, DayOfStock>> {
  const stocks = new Map<string, Map<string, DayOfStock>>();
  const at = (shopId: string, refrigerant: string, day: string): DayOfStock => {
    const key = `${shopId}|${refrigerant}`;
    const days = stocks.get(key) ?? new Map<string, DayOfStock>();
    stocks.set(key, days);
    const one = days.get(day) ?? { ...nothing(), taken: null, containers: new Set<string>(), isWhole: false };
    days.set(day, one);
    return one;
  };
  for (const { shopId, refrigerant, day, recoveredG, chargedG, weighings } of handled) {
    const one = at(shopId, refrigerant, day);
    one.recovered += recoveredG;
    one.charged += chargedG;
    one.weighings += weighings;
  }
  for (const { kind, shopId, refrigerant, day, massG, cylinderId, machineId, toShopId } of entries) {
    const one = at(shopId, refrigerant, day);
    if (kind === 'purchase') one.bought += massG;
    if (kind === 'shipment') {
      one.sent += massG;
      one.weighings += 1;
      if (toShopId !== null) at(toShopId, refrigerant, day).bought += massG;
    }
    if (kind === 'stock-take') {
      one.taken = (one.taken ?? 0) + massG;
      const container = cylinderId ?? machineId;
      if (container === null) one.isWhole = true;
      else one.containers.add(container);
    }
  }
  return stocks;
}

function linesOf(
  facts: LedgerFacts,
  shopId: string,
  refrigerant: RefrigerantName,
  name: ShownShop,
  days: Map<string, DayOfStock>,
): RefrigerantLedgerLine[] {
  const isHere = (one: Machine | Cylinder) => one.shopId === shopId && one.refrigerant === refrigerant;
  const machines = facts.machines.filter(isHere);
  const cylinders = facts.cylinders.filter(isHere);
  const errorG = machines.length === 0 ? USUAL_SCALE_ERROR_G : Math.max(...machines.map(({ scaleErrorG }) => scaleErrorG));
  const months = new Map<string, [string, DayOfStock][]>();
  for (const entry of [...days].sort(([a], [b]) => (a < b ? -1 : 1))) {
    const month = entry[0].slice(0, 7);
    months.set(month, [...(months.get(month) ?? []), entry]);
  }
  let book: number | null = null;
  let weighings = 0;
  return [...months].map(([month, list]): RefrigerantLedgerLine => {
    const openingG = book;
    const flow = nothing();
    let unaccountedG: number | null = null;
    let compared = 0;
    let last: [string, DayOfStock] | null = null;
    for (const [day, one] of list) {
      for (const field of ['bought', 'recovered', 'charged', 'sent', 'weighings'] as const) flow[field] += one[field];
      weighings += one.weighings;
      if (book !== null) book += one.bought + one.recovered - one.charged - one.sent;
      if (one.taken === null) continue;
      weighings += Math.max(1, one.containers.size);
      if (book !== null) {
        unaccountedG = (unaccountedG ?? 0) + book - one.taken;
        compared += weighings;
      }
      book = one.taken;
      // The next comparison begins with this count.
      weighings = Math.max(1, one.containers.size);
      last = [day, one];
    }
    const inUse = last === null || last[1].isWhole ? [] : [...machines, ...cylinders].filter((one) => isInUse(one, last![0]));
    const limit = unaccountedG === null ? null : errorG * Math.sqrt(compared);
    const verdict =
      unaccountedG === null || limit === null
        ? 'no-stock-take'
        : unaccountedG > limit
          ? 'loss'
          : unaccountedG < -limit
            ? 'gain'
            : 'balanced';
    const gwp = GWP[facts.assessment][refrigerant];
    return {
      ...name,
      month,
      refrigerant,
      openingG,
      boughtG: flow.bought,
      recoveredG: flow.recovered,
      chargedG: flow.charged,
      sentOutG: flow.sent,
      unaccountedG,
      closingG: book,
      takenOn: last?.[0] ?? null,
      takenG: last?.[1].taken ?? null,
      missingContainers: inUse.filter(({ id }) => !last![1].containers.has(id)).length,
      weighings: compared,
      errorG: limit,
      worstErrorG: unaccountedG === null ? null : errorG * compared,
      verdict,
      co2eKg: unaccountedG === null || gwp === undefined ? null : (unaccountedG / 1000) * gwp,
      message: messageOf(verdict, unaccountedG, limit),
    };
  });
}

const isInUse = ({ createdAt, retiredOn }: Machine | Cylinder, day: string) =>
  new Date(createdAt).toISOString().slice(0, 10) <= day && (retiredOn === null || retiredOn > day);

function messageOf(verdict: RefrigerantLedgerLine['verdict'], unaccountedG: number | null, limit: number | null): string {
  if (unaccountedG === null || limit === null) return 'No two stock takes to compare.';
  const mass = `${Math.abs(Math.round(unaccountedG))} g`;
  if (verdict === 'balanced') return `Adds up: ${mass} off, within the ${Math.round(limit)} g the scales can err.`;
  return verdict === 'loss'
    ? `${mass} missing, more than the ${Math.round(limit)} g the scales can err: look for leaking hoses and unrecorded charges.`
    : `${mass} too much, more than the ${Math.round(limit)} g the scales can err: look for recoveries and purchases that were not recorded.`;
}
