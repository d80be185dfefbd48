import { type Actor, type Casebook, ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import type { Platform, Shop } from '#libs/contracts/index.js';
import { type Draw, drawsOf } from './draws.js';
import { DEMO_SEED, firstDayOf, PLANNED_CASES, type PlannedVehicle, type PlannedVisit, planRegion } from './plan.js';
import { evidenceOf } from './readings.js';
import { DEMO_PLATFORMS, DEMO_SHOPS } from './region.js';
import { weighedOf } from './weighed.js';

/**
 * Vehicles a transaction, and transactions side by side: while one waits for the database the other computes. Visits carry their order's
 * reference, so that a batch that was interrupted is simply loaded again; what is there already is left as it is.
 */
const VEHICLES_A_LANE = 4;
const LANES = 3;
const DAY_MS = 86_400_000;

export interface LoadOptions {
  readonly taskId: string;
  /** Stop once this many cases are in. */
  readonly until: number;
  readonly progress?: (done: number) => void;
  readonly signal?: AbortSignal;
  /** Hears that this run has moved the load on. */
  readonly onFirstBatch?: () => Promise<void>;
}

/** The founder in whose name the demo is loaded. */
function loader(orgId: string): Actor {
  return {
    orgId,
    credentialId: orgId,
    role: 'administrator',
    permissions: ROLE_PERMISSIONS.administrator,
    shopIds: null,
    requestId: 'demo',
  };
}

/**
 * Loads the demo region through the same operations everybody uses, vehicle by vehicle, so that every planted truth shows from the first
 * thousand cases on. Days are counted back from the first of the month in which the load began.
 */
export async function loadRegion(casebook: Casebook, orgId: string, options: LoadOptions): Promise<number> {
  const actor = loader(orgId);
  const task = await casebook.context.inTenant(orgId, (tx) => casebook.tasks.findTask(tx, orgId, options.taskId));
  if (!task) throw new Error(`there is no task ${options.taskId} to load the demo for`);
  const firstDay = firstDayOf(new Date(task.createdAt)).getTime();
  const places = await ensurePlaces(casebook, actor);
  const plan = planRegion(DEMO_SEED, PLANNED_CASES, new Date(firstDay));
  const total = plan.reduce((sum, vehicle) => sum + vehicle.visits.length, 0);
  let done = task.done;
  let batches = 0;
  let vehicle = vehicleAfter(plan, done);
  while (vehicle < plan.length && done < options.until && !options.signal?.aborted) {
    const batch = plan.slice(vehicle, vehicle + LANES * VEHICLES_A_LANE);
    const lanes = Array.from({ length: LANES }, (_, lane) => batch.filter((_vehicle, at) => at % LANES === lane));
    await Promise.all(
      lanes.map((lane) =>
        takenAgain(() =>
          casebook.context.inTenant(orgId, async (tx) => {
            const within = casebook.within(tx, orgId);
            for (const one of lane) await loadVehicle(within, actor, one, places, firstDay);
          }),
        ),
      ),
    );
    done += batch.reduce((sum, one) => sum + one.visits.length, 0);
    vehicle += batch.length;
    await casebook.context.inTenant(orgId, (tx) =>
      casebook.tasks.reportProgress(tx, orgId, options.taskId, done, done >= total ? 'done' : 'running', `${done} of ${total} cases`),
    );
    options.progress?.(done);
    if (++batches === 1) await options.onFirstBatch?.();
  }
  return done;
}

const MOST_TRIES = 10;
/** PostgreSQL's lock_not_available and deadlock_detected. */
const LOST_TO_ANOTHER = ['55P03', '40P01'];

/**
 * Lanes wait for rows they have in common. Where the machine does much else, a wait may run into the limit that stands for everybody: the lane's
 * transaction is undone then, and is taken again.
 */
async function takenAgain(work: () => Promise<void>): Promise<void> {
  for (let tries = 1; ; tries++) {
    try {
      return await work();
    } catch (error) {
      if (tries === MOST_TRIES || !LOST_TO_ANOTHER.includes(String((error as { code?: unknown } | null)?.code))) throw error;
    }
  }
}

interface Places {
  readonly shops: readonly Shop[];
  readonly platforms: readonly Platform[];
}

async function ensurePlaces(casebook: Casebook, actor: Actor): Promise<Places> {
  const shops = (await casebook.shops.listShops(actor, { first: 100 })).data;
  const platforms = (await casebook.platforms.listPlatforms(actor, { first: 100 })).data;
  return {
    shops: await Promise.all(
      DEMO_SHOPS.map(async (shop) => shops.find((one) => one.code === shop.code) ?? casebook.shops.addShop(actor, shop)),
    ),
    platforms: await Promise.all(
      DEMO_PLATFORMS.map(
        async (platform) => platforms.find((one) => one.code === platform.code) ?? casebook.platforms.addPlatform(actor, platform),
      ),
    ),
  };
}

function vehicleAfter(plan: readonly PlannedVehicle[], cases: number): number {
  let counted = 0;
  let vehicle = 0;
  while (vehicle < plan.length && counted < cases) counted += plan[vehicle++]!.visits.length;
  return vehicle;
}

const dayOf = (firstDay: number, day: number) => new Date(firstDay + day * DAY_MS).toISOString().slice(0, 10);

async function loadVehicle(casebook: Casebook, actor: Actor, vehicle: PlannedVehicle, places: Places, firstDay: number): Promise<void> {
  const platform = places.platforms[vehicle.platform]!;
  const identity = {
    ...(vehicle.vin === null ? {} : { vin: vehicle.vin }),
    platformId: platform.id,
    modelYear: vehicle.modelYear,
  };
  for (const [visit, planned] of vehicle.visits.entries()) {
    await loadVisit(casebook, actor, vehicle, visit, planned, platform, identity, places, firstDay);
  }
  if (vehicle.vin === null || vehicle.visits.length === 0) return;
  for (const seen of vehicle.sightings) {
    await casebook.vehicles.recordSighting(actor, {
      shopId: places.shops[seen.shop]!.id,
      vehicle: identity,
      day: dayOf(firstDay, seen.day),
      odometer: { value: seen.odometerKm, unit: 'km' },
    });
  }
}

/** Of finished work that was not proved by it, half is read once more. A stop-gap leaves something to see. */
function isReadAgain({ proof, repairs }: PlannedVisit, draw: Draw): boolean {
  const isChecked = draw.unit() < 0.5;
  return proof === 'verified-after-readings' || (isChecked && repairs.some(({ intent }) => intent === 'permanent'));
}

async function loadVisit(
  casebook: Casebook,
  actor: Actor,
  vehicle: PlannedVehicle,
  visit: number,
  planned: PlannedVisit,
  platform: Platform,
  identity: { vin?: string; platformId: string; modelYear: number },
  places: Places,
  firstDay: number,
): Promise<void> {
  const shop = places.shops[planned.shop]!;
  const day = dayOf(firstDay, planned.day);
  const draw = drawsOf(DEMO_SEED + 1, vehicle.index * 16 + visit);
  const again = drawsOf(DEMO_SEED + 3, vehicle.index * 16 + visit);
  const outsideC = shop.normals[Number(day.slice(5, 7)) - 1]!.meanC;
  const hour = String(8 + draw.below(9)).padStart(2, '0');
  const { outcome, case: opened } = await casebook.cases.openCase(actor, {
    shopId: shop.id,
    vehicle: identity,
    odometer: { value: planned.odometerKm, unit: 'km' },
    openedAt: `${day}T${hour}:00:00Z`,
    complaint: planned.complaint,
    source: { system: 'demo', reference: `${vehicle.index}-${visit}`, revision: 1 },
    backfill: true,
    evidence: evidenceOf(
      {
        platform,
        elevationM: shop.elevationM,
        outsideC,
        fault: planned.fault,
        severity: planned.severity,
        after: isReadAgain(planned, again) ? again : null,
      },
      draw,
    ),
    diagnose: true,
  });
  if (outcome !== 'opened') return;
  if (planned.proof !== null && planned.fault !== null) {
    await casebook.repairs.recordProof(actor, opened.id, { faults: [planned.fault], method: planned.proof, note: null });
  }
  for (const repair of planned.repairs) {
    await casebook.repairs.recordRepair(actor, opened.id, {
      ...repair,
      day,
      parts: [],
      ...weighedOf(repair, platform.chargeG, shop.code, drawsOf(DEMO_SEED + 2, vehicle.index * 16 + visit)),
      labourHours: Math.round((0.5 + 3 * draw.unit()) * 10) / 10,
      cost: Math.round(shop.labourRate * (1 + 6 * draw.unit())),
      note: null,
    });
  }
}
