import { randomBytes } from 'node:crypto';
import { v7 as uuidv7 } from 'uuid';
import { z } from 'zod';
import { type Deleted, ExportHead, instantText } from '#libs/contracts/index.js';
import { constraintOf } from '#libs/database/index.js';
import { findOrganisation, insertOrganisation } from '../access/access.queries.js';
import type { AccessService } from '../access/access.service.js';
import { type Actor, ROLE_PERMISSIONS, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { appendEvent } from '../events/events.queries.js';
import { NeedsAllShops } from '../events/webhooks.errors.js';
import type { LinkingService } from '../outcomes/linking.service.js';
import { deletePhotographsOfVehicle } from '../photographs/photographs.queries.js';
import { seal } from '../vehicles/identity-hash.js';
import { mergedVehicles, standingVehicle } from '../vehicles/merges.queries.js';
import { organisationKey } from '../vehicles/organisation-key.js';
import { VehicleMoved } from '../vehicles/vehicle-moved.js';
import { VehicleNotFound } from '../vehicles/vehicles.errors.js';
import { deleteVehicle, forgetVehicle, lockVehicles } from '../vehicles/vehicles.queries.js';
import { ExportUnreadable } from './leaving.errors.js';
import { columnsOf, type ExportedRow, eraseTable, putRows, rowsAfter } from './leaving.queries.js';
import { fromPassphrase, underPassphrase } from './passphrase.js';
import { ERASED, EXPORTED, ONCE_EXPORTED, rowsAtOnce } from './tables.js';

export const EXPORT_FORMAT = 1;
const isGone = (table: string): boolean => ONCE_EXPORTED.includes(table);
const Line = z.strictObject({ table: z.enum([...ONCE_EXPORTED, ...Object.keys(EXPORTED)]), row: z.record(z.string(), z.unknown()) });
const Tail = z.strictObject({ end: z.literal(true), rows: z.record(z.string(), z.int()) });

export interface LeavingParts {
  readonly access: AccessService;
  readonly linking: LinkingService;
}

/** Taking everything along, and leaving nothing behind. */
export class LeavingService {
  constructor(
    private readonly context: CasebookContext,
    private readonly parts: LeavingParts,
  ) {}

  /** Judges the request before anything is written: a stream cannot be refused any more. */
  exportAll(actor: Actor, passphrase: string | null): AsyncGenerator<string> {
    requirePermission(actor, 'organisation:export');
    if (actor.shopIds !== null) throw new NeedsAllShops();
    return this.exportLines(actor, passphrase);
  }

  /**
   * The whole organisation, a line a row, parents first; the first line says what the others are, the last how many there were. Read in small
   * steps, so that a slow reader holds up nobody; each row is as it was when its step was read.
   */
  private async *exportLines(actor: Actor, passphrase: string | null): AsyncGenerator<string> {
    const { orgId } = actor;
    yield lineOf(
      await this.context.inTenant(orgId, async (tx) => {
        const at = this.context.clock();
        const organisation = await findOrganisation(tx, orgId);
        await appendAudit(tx, actor, at, 'organisation.exported', { type: 'organisation', id: orgId }, { withKey: passphrase !== null });
        const hashKey = passphrase === null ? null : underPassphrase(await organisationKey(this.context, tx, orgId), passphrase);
        const tables = Object.keys(EXPORTED);
        return {
          format: 'coolback-export',
          version: EXPORT_FORMAT,
          organisation: organisation!.name,
          exportedAt: instantText(at),
          tables,
          hashKey,
        };
      }),
    );
    const rows: Record<string, number> = {};
    for (const table of Object.keys(EXPORTED)) {
      rows[table] = 0;
      let after: ExportedRow | null = null;
      do {
        const from: ExportedRow | null = after;
        const batch: ExportedRow[] = await this.context.inTenant(orgId, (tx) => rowsAfter(tx, orgId, table, from, rowsAtOnce(table)), {
          readOnly: true,
        });
        rows[table] += batch.length;
        if (batch.length > 0) yield batch.map((row) => lineOf({ table, row })).join('');
        after = batch.at(-1) ?? null;
      } while (after !== null);
    }
    yield lineOf({ end: true, rows });
  }

  /**
   * Founds an organisation from an export. It is there with the last line or not at all. Keys and webhooks are issued anew: their secrets were
   * never in the file. Called on the command line, not over the API.
   */
  async restoreOrganisation(
    lines: AsyncIterable<string>,
    passphrase: string | null,
    progress: (rows: number) => void = () => {},
  ): Promise<{ orgId: string; secret: string; rows: number }> {
    const orgId = uuidv7();
    return this.context.inTenant(orgId, async (tx) => {
      let head: ExportHead | null = null;
      let tail: z.infer<typeof Tail> | null = null;
      let batch: ExportedRow[] = [];
      let table = '';
      let names = '';
      let known: string[] = [];
      const counts: Record<string, number> = {};
      let rows = 0;
      const put = async () => {
        if (batch.length > 0) await putRows(tx, orgId, table, Object.keys(batch[0]!), batch).catch(refuseBrokenRows);
        batch = [];
        progress(rows);
      };
      for await (const text of lines) {
        if (text.trim() === '') continue;
        const value = parsed(text);
        if (!head) {
          const read = ExportHead.safeParse(value);
          if (!read.success) throw new ExportUnreadable('its first line is not that of an export.');
          head = read.data;
          if (head.version !== EXPORT_FORMAT)
            throw new ExportUnreadable(`it is of version ${head.version}; this program reads ${EXPORT_FORMAT}.`);
          const key = keyOf(head, passphrase);
          const slug = `restored-${randomBytes(6).toString('hex')}`;
          await insertOrganisation(tx, {
            orgId,
            name: head.organisation,
            slug,
            hashKey: seal(key, this.context.serverSecret),
            demo: false,
          });
          continue;
        }
        const end = Tail.safeParse(value);
        if (end.success) {
          tail = end.data;
          continue;
        }
        const read = Line.safeParse(value);
        if (!read.success || tail) throw new ExportUnreadable(`line ${rows + 2} is not a row of a known table.`);
        if (isGone(read.data.table)) {
          counts[read.data.table] = (counts[read.data.table] ?? 0) + 1;
          rows++;
          continue;
        }
        const namesHere = Object.keys(read.data.row).join();
        if (read.data.table !== table || namesHere !== names || batch.length >= rowsAtOnce(read.data.table)) {
          await put();
          if (read.data.table !== table) known = await columnsOf(tx, read.data.table);
          table = read.data.table;
          names = namesHere;
          const foreign = Object.keys(read.data.row).find((name) => name === 'org_id' || !known.includes(name));
          if (foreign !== undefined)
            throw new ExportUnreadable(
              `line ${rows + 2} has a column "${foreign.slice(0, 60)}" that ${table} has not here. Was it made by a newer version?`,
            );
        }
        batch.push(read.data.row);
        counts[table] = (counts[table] ?? 0) + 1;
        rows++;
      }
      await put();
      if (!tail) throw new ExportUnreadable('its last line is missing: it was cut.');
      for (const [name, count] of Object.entries(tail.rows))
        if ((counts[name] ?? 0) !== count) throw new ExportUnreadable(`it says ${count} rows of ${name} and holds ${counts[name] ?? 0}.`);
      const founder: Actor = {
        orgId,
        credentialId: orgId,
        role: 'administrator',
        permissions: ROLE_PERMISSIONS.administrator,
        shopIds: null,
        requestId: 'restoring',
      };
      const issued = await this.parts.access.issueKeyIn(tx, founder, {
        name: 'First administrator',
        role: 'administrator',
        shopIds: null,
        expiresAt: null,
      });
      return { orgId, secret: issued.secret, rows };
    });
  }

  /** Removes every row of an organisation. Needs a casebook over a role that may delete from the audit trail: the owner's. */
  async eraseOrganisation(orgId: string): Promise<Record<string, number>> {
    this.context.hashKeys.delete(orgId);
    return this.context.inTenant(orgId, async (tx) => {
      const erased: Record<string, number> = {};
      for (const table of ERASED) erased[table] = await eraseTable(tx, orgId, table);
      return erased;
    });
  }

  /**
   * Forgets a vehicle: its hashes, where it was seen, its photographs, and which cases and repairs were its. The cases stay, as cases of a car that
   * nobody can name, so that figures do not move; what people wrote into them stays too.
   */
  async deleteVehicle(actor: Actor, id: string): Promise<Deleted> {
    requirePermission(actor, 'vehicles:delete');
    if (actor.shopIds !== null) throw new NeedsAllShops();
    return this.context.inTenant(actor.orgId, async (tx) => {
      // Records found to be of the same car are of the same owner: they go along.
      const records = async () => mergedVehicles(tx, actor.orgId, await standingVehicle(tx, actor.orgId, id));
      const held = new Set((await lockVehicles(tx, actor.orgId, await records())).map((vehicle) => vehicle.id));
      if (!held.has(id)) throw new VehicleNotFound();
      const all = await records();
      if (!all.every((one) => held.has(one))) throw new VehicleMoved(`record ${id}`);
      const at = this.context.clock();
      let cases = 0;
      for (const one of all) {
        await deletePhotographsOfVehicle(tx, actor.orgId, one);
        cases += await forgetVehicle(tx, actor.orgId, one);
        await this.parts.linking.vehicleForgotten(tx, actor.orgId, one);
        await deleteVehicle(tx, actor.orgId, one);
      }
      await appendAudit(tx, actor, at, 'vehicle.deleted', { type: 'vehicle', id }, { cases });
      await appendEvent(tx, actor.orgId, at, 'vehicle.deleted', id, { vehicleId: id });
      return { id };
    });
  }
}

const lineOf = (value: unknown): string => `${JSON.stringify(value)}\n`;

/** Rows that refer to rows that are missing, or stand there twice, are the file's fault. */
function refuseBrokenRows(error: unknown): never {
  const { code, column } = (error ?? {}) as { code?: unknown; column?: unknown };
  // 23502: not null.
  if (code === '23502' && typeof column === 'string') throw new ExportUnreadable(`a row of it has no "${column}".`);
  const constraint = constraintOf(error);
  if (constraint === null) throw error;
  throw new ExportUnreadable(`its rows do not hold together (${constraint}).`);
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    throw new ExportUnreadable('a line of it is not JSON.');
  }
}

/** A new key where the old one is not in the file or cannot be opened on purpose: cars seen from then on do not join those of the file. */
function keyOf({ hashKey }: ExportHead, passphrase: string | null): Buffer {
  if (hashKey === null || passphrase === null) return randomBytes(32);
  try {
    return fromPassphrase(hashKey, passphrase);
  } catch {
    throw new ExportUnreadable('the passphrase is not the one it was made with.');
  }
}
