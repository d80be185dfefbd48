import type { Complaint, EpisodeEnd, FaultCode, RepairAction, RepairIntent } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { signatureDimensions } from '#libs/engine/index.js';
import { codeBytes, valuesOfCode } from './signature-code.js';

export interface VisitRow {
  readonly caseId: string;
  readonly shopId: string;
  readonly openedAt: string;
  readonly complaint: Complaint;
  readonly leadingFault: string | null;
  readonly provedFaults: FaultCode[];
}

export async function visitsOfVehicle(tx: Tx, orgId: string, vehicleId: string): Promise<VisitRow[]> {
  const { rows } = await tx.query<VisitRow>({
    name: 'history.visits',
    text: `select id as "caseId", shop_id as "shopId", opened_at as "openedAt", complaint, leading_fault as "leadingFault",
                  proved_faults as "provedFaults"
             from shop_case where org_id = $1 and vehicle_id = $2 and status <> 'void' order by opened_at, id`,
    values: [orgId, vehicleId],
  });
  return rows;
}

export interface SignatureRow {
  readonly caseId: string;
  readonly values: (number | null)[];
}

export async function signatureOfCase(
  tx: Tx,
  orgId: string,
  caseId: string,
): Promise<{ version: string; layout: string; values: (number | null)[]; leadingFault: string | null } | null> {
  const { rows } = await tx.query<{ version: string; layout: string; values: (number | null)[]; leadingFault: string | null }>({
    name: 'history.signature',
    text: `select version, layout, values, leading_fault as "leadingFault" from case_signature where org_id = $1 and case_id = $2`,
    values: [orgId, caseId],
  });
  return rows[0] ?? null;
}

/** Signatures that may be compared with each other. */
export interface SignatureKind {
  readonly version: string;
  readonly layout: string;
}

/** Cases of a kind, those with the newest identifiers first. */
export interface SignaturePage {
  readonly count: number;
  /** Identifiers and codes, one behind the other, as base64; without those whose code is missing or of an older program. */
  readonly packed: string | null;
  readonly first: string | null;
  readonly last: string | null;
  /** Transactions of this number and later ones may have written what is not seen here. */
  readonly since: string;
}

/** Layouts of the organisation's platforms. */
export async function layoutsOf(tx: Tx, orgId: string): Promise<string[]> {
  const { rows } = await tx.query<{ layout: string }>({
    name: 'history.layouts',
    text: 'select distinct layout from platform where org_id = $1 order by layout',
    values: [orgId],
  });
  return rows.map(({ layout }) => layout);
}

/** Answered from the index. */
export async function signaturePage(
  tx: Tx,
  orgId: string,
  { version, layout }: SignatureKind,
  after: string | null,
  limit: number,
): Promise<SignaturePage> {
  const { rows } = await tx.query<SignaturePage>({
    name: 'history.signature-page',
    text: `select count(*)::int as count, (array_agg(s.case_id))[1] as first, (array_agg(s.case_id))[count(*)] as last,
                  encode(string_agg(uuid_send(s.case_id) || s.code, ''::bytea) filter (where octet_length(s.code) = $6), 'base64') as packed,
                  pg_snapshot_xmin(pg_current_snapshot())::text as since
             from (select case_id, code from case_signature
                    where org_id = $1 and version = $2 and layout = $3 and ($4::uuid is null or case_id < $4)
                    order by case_id desc limit $5) s`,
    values: [orgId, version, layout, after, limit, CODE_BYTES],
  });
  return rows[0]!;
}
const CODE_BYTES = codeBytes(signatureDimensions.length);

/** Of a page, those whose code is missing or of an older program. */
export async function uncodedSignatures(
  tx: Tx,
  orgId: string,
  { version, layout }: SignatureKind,
  { first, last }: Pick<SignaturePage, 'first' | 'last'>,
): Promise<SignatureRow[]> {
  const { rows } = await tx.query<SignatureRow>({
    name: 'history.uncoded-signatures',
    text: `select case_id as "caseId", values from case_signature
            where org_id = $1 and version = $2 and layout = $3 and case_id <= $4 and case_id >= $5 and octet_length(code) is distinct from $6`,
    values: [orgId, version, layout, first, last, CODE_BYTES],
  });
  return rows;
}

/**
 * What transactions from number `since` on have written of a kind, and from which number on to ask the next time. Numbers from the future come from another
 * server, of which this is a copy.
 */
export async function changedSignatures(
  tx: Tx,
  orgId: string,
  { version, layout }: SignatureKind,
  since: string,
): Promise<{ readonly since: string; readonly rows: SignatureRow[] }> {
  const { rows } = await tx.query<{ since: string; caseId: string | null; values: (number | null)[] }>({
    name: 'history.changed-signatures',
    text: `select n.since::text, s.case_id as "caseId", s.values
             from (select pg_snapshot_xmin(pg_current_snapshot())::text::bigint as since, pg_snapshot_xmax(pg_current_snapshot())::text::bigint as next) n
             left join case_signature s on s.org_id = $1 and s.version = $2 and s.layout = $3 and s.written_in >= $4::bigint and s.written_in < n.next`,
    values: [orgId, version, layout, since],
  });
  return { since: rows[0]!.since, rows: rows.filter((row): row is SignatureRow & { since: string } => row.caseId !== null) };
}

/** A case that is shown beside another, with its signature as it is now. */
export interface StandingCase {
  readonly caseId: string;
  readonly shopId: string;
  readonly platformId: string | null;
  readonly openedAt: string;
  readonly complaint: Complaint;
  readonly leadingFault: string | null;
  readonly provedFaults: FaultCode[];
  readonly values: readonly (number | null)[];
}

/**
 * Of some cases, those that still are of the kind and not void. The signature is read from the index that gives its code: cases that are alike lie anywhere in a
 * large table, and each row of it would be a page read from the disk.
 */
export async function standingCases(
  tx: Tx,
  orgId: string,
  { version, layout }: SignatureKind,
  caseIds: readonly string[],
): Promise<StandingCase[]> {
  const { rows } = await tx.query<Omit<StandingCase, 'values'> & { code: string | null; values: (number | null)[] | null }>({
    name: 'history.standing-cases',
    text: `select c.id as "caseId", c.shop_id as "shopId", c.platform_id as "platformId", c.opened_at as "openedAt", c.complaint,
                  c.leading_fault as "leadingFault", c.proved_faults as "provedFaults",
                  case when octet_length(s.code) = $5 then encode(s.code, 'base64') end as code,
                  case when octet_length(s.code) is distinct from $5
                       then (select v.values from case_signature v where v.org_id = $1 and v.case_id = c.id) end as values
             from case_signature s join shop_case c on c.org_id = s.org_id and c.id = s.case_id
            where s.org_id = $1 and s.version = $2 and s.layout = $3 and s.case_id = any($4::uuid[]) and c.status <> 'void'`,
    values: [orgId, version, layout, caseIds, CODE_BYTES],
  });
  return rows.map(({ code, values, ...row }) => ({ ...row, values: values ?? valuesOfCode(Buffer.from(code!, 'base64')) }));
}

export interface EndedRepairRow {
  readonly caseId: string;
  readonly fault: FaultCode;
  readonly action: RepairAction;
  readonly intent: RepairIntent;
  readonly day: string;
  readonly end: EpisodeEnd;
  readonly days: number;
}

/** Answered from an index alone. */
export async function endedRepairs(tx: Tx, orgId: string, caseIds: readonly string[]): Promise<EndedRepairRow[]> {
  const { rows } = await tx.query<EndedRepairRow>({
    name: 'history.ended-repairs',
    text: `select case_id as "caseId", fault, action, intent, started_on::text as day, end_kind as "end", (ended_on - started_on)::int as days
             from episode where org_id = $1 and case_id = any($2) order by started_on, fault, action, intent, end_kind, ended_on`,
    values: [orgId, caseIds],
  });
  return rows;
}

/**
 * Brings pages into the database's memory that `standingCases` looks up, some cases at a time.
 * @returns the last of them, null where there are none any more.
 */
export async function warmCases(tx: Tx, orgId: string, after: string | null, limit: number): Promise<string | null> {
  const { rows } = await tx.query<{ last: string | null }>({
    name: 'history.warm-cases',
    text: `select (array_agg(c.id))[count(c.status)] as last
             from (select id, status from shop_case where org_id = $1 and ($2::uuid is null or id > $2) order by id limit $3) c`,
    values: [orgId, after, limit],
  });
  return rows[0]!.last;
}

/** The same of the index from which `endedRepairs` answers. */
export async function warmEndedRepairs(tx: Tx, orgId: string, after: string | null, limit: number): Promise<string | null> {
  const { rows } = await tx.query<{ last: string | null }>({
    name: 'history.warm-ended-repairs',
    text: `select (array_agg(e.case_id))[count(*)] as last
             from (select case_id from episode where org_id = $1 and ($2::uuid is null or case_id > $2) order by case_id limit $3) e`,
    values: [orgId, after, limit],
  });
  return rows[0]!.last;
}

/** Whether an organisation has so many cases. */
export async function hasCases(tx: Tx, orgId: string, least: number): Promise<boolean> {
  const { rows } = await tx.query<{ count: number }>({
    name: 'history.has-cases',
    text: 'select count(*)::int as count from (select from shop_case where org_id = $1 limit $2) c',
    values: [orgId, least],
  });
  return rows[0]!.count >= least;
}
