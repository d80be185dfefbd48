import { type KeyUsage, MAX_USAGE_DAYS, type UsageOfKey, type UsageQuestion } from '#libs/contracts/index.js';
import type { CasebookContext } from '../context.js';
import { KeyNotFound, UsagePeriodRefused } from './access.errors.js';
import type { Actor } from './actor.js';
import { addUsage, type Counted, usageByDay } from './usage.queries.js';

const DAY_MS = 86_400_000;
const DEFAULT_DAYS = 30;
const MOST_KEYS = 100;
/** Keys and days counted in memory at most: while so many wait to be written down, nothing more is counted. */
const MOST_COUNTED = 20_000;

/** How much each key asks for. Requests are counted in memory and written down now and then: a server that is killed loses what it counted since. */
export class UsageService {
  private counts = new Map<string, Map<string, Counted>>();
  private size = 0;

  constructor(private readonly context: CasebookContext) {}

  /** Counts one request that was answered. */
  count({ orgId, credentialId }: Actor, isRefused: boolean): void {
    if (this.size >= MOST_COUNTED) return;
    const day = dayOf(this.context.clock());
    this.add(orgId, { keyId: credentialId, day, requests: 1, refused: isRefused ? 1 : 0 });
  }

  /** Writes down what was counted since the last time. What cannot be written stays counted. */
  async writeDown(): Promise<void> {
    const taken = this.counts;
    this.counts = new Map();
    this.size = 0;
    const failures: unknown[] = [];
    for (const [orgId, counted] of taken) {
      try {
        await this.context.inTenant(orgId, (tx) => addUsage(tx, orgId, [...counted.values()]));
      } catch (error) {
        failures.push(error);
        for (const one of counted.values()) this.add(orgId, one);
      }
    }
    if (failures.length > 0) throw new AggregateError(failures, 'use of keys could not be written down');
  }

  /** Use by key and day: of one's own key, and with keys:read of all within one's shops. @throws UsagePeriodRefused, KeyNotFound */
  async keyUsage(actor: Actor, question: UsageQuestion): Promise<KeyUsage> {
    const now = this.context.clock();
    const since = question.since ?? dayOf(new Date(now.getTime() - (DEFAULT_DAYS - 1) * DAY_MS));
    const until = question.until ?? dayOf(new Date(Math.min(now.getTime() + DAY_MS, Date.parse(since) + MAX_USAGE_DAYS * DAY_MS)));
    const days = (Date.parse(until) - Date.parse(since)) / DAY_MS;
    if (days <= 0 || days > MAX_USAGE_DAYS) throw new UsagePeriodRefused(since, until, MAX_USAGE_DAYS);
    const isOwnOnly = !actor.permissions.includes('keys:read');
    if (isOwnOnly && question.keyId !== undefined && question.keyId !== actor.credentialId) throw new KeyNotFound(question.keyId);
    const scope = {
      since,
      until,
      shopIds: isOwnOnly ? null : actor.shopIds,
      keyId: isOwnOnly ? actor.credentialId : (question.keyId ?? null),
    };
    const rows = await this.context.inTenant(actor.orgId, (tx) => usageByDay(tx, actor.orgId, scope, MOST_KEYS));
    const keys = new Map<string, UsageOfKey>();
    for (const { keyId, name, hint, keys: _, ...day } of rows) {
      const before = keys.get(keyId) ?? { keyId, name, hint, requests: 0, refused: 0, rows: 0, days: [] };
      keys.set(keyId, {
        ...before,
        requests: before.requests + day.requests,
        refused: before.refused + day.refused,
        rows: before.rows + day.rows,
        days: [...before.days, day],
      });
    }
    return { since, until, keys: [...keys.values()], left: Math.max(0, (rows[0]?.keys ?? 0) - keys.size), isOwnOnly, cautions: CAUTIONS };
  }

  private add(orgId: string, { keyId, day, requests, refused }: Counted): void {
    const ofOrganisation = this.counts.get(orgId) ?? new Map<string, Counted>();
    this.counts.set(orgId, ofOrganisation);
    const name = `${keyId} ${day}`;
    const before = ofOrganisation.get(name);
    if (!before) this.size += 1;
    ofOrganisation.set(name, {
      keyId,
      day,
      requests: (before?.requests ?? 0) + requests,
      refused: (before?.refused ?? 0) + refused,
    });
  }
}

const dayOf = (at: Date) => at.toISOString().slice(0, 10);

const CAUTIONS = [
  'Requests are counted in memory and written down every few seconds: the latest are not told yet, and a server that is killed loses them.',
  'Rows are those of files, on the day the file was sent; they are taken in later by the worker, and rejected ones are among them.',
];
