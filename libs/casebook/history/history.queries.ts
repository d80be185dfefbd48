import type { Complaint, EpisodeEnd, FaultCode, RepairAction, RepairIntent } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

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

/** Identifiers and codes of the cases of a layout and signature version with one leading fault, one behind the other, as base64; and when the newest was opened. */
export interface CodedLot {
  readonly packed: string;
  readonly newest: string;
}

/** The newest `limit` of each leading fault, opened after `since`. Answered from the index. */
export async function codedLots(
  tx: Tx,
  orgId: string,
  asked: { readonly version: string; readonly layout: string; readonly faults: readonly string[] },
  since: string | null,
  limit: number,
): Promise<CodedLot[]> {
  const { rows } = await tx.query<CodedLot>({
    name: 'history.coded-lots',
    text: `select encode(string_agg(uuid_send(c.case_id) || c.code, ''::bytea), 'base64') as packed, max(c.opened_at) as newest
             from (select f.fault, s.* from unnest($4::text[]) as f(fault)
                     cross join lateral (
                       select case_id, code, opened_at from case_signature
                        where org_id = $1 and version = $2 and layout = $3 and leading_fault = f.fault and code is not null
                          and opened_at > coalesce($5::timestamptz, '-infinity')
                        order by opened_at desc limit $6) s
                   union all
                   (select null, case_id, code, opened_at from case_signature
                     where org_id = $1 and version = $2 and layout = $3 and leading_fault is null and code is not null
                       and opened_at > coalesce($5::timestamptz, '-infinity')
                     order by opened_at desc limit $6)) c
            group by c.fault`,
    values: [orgId, asked.version, asked.layout, asked.faults, since, limit],
  });
  return rows;
}

export async function signaturesOf(tx: Tx, orgId: string, caseIds: readonly string[]): Promise<SignatureRow[]> {
  const { rows } = await tx.query<SignatureRow>({
    name: 'history.signatures',
    text: 'select case_id as "caseId", values from case_signature where org_id = $1 and case_id = any($2::uuid[])',
    values: [orgId, caseIds],
  });
  return rows;
}

export interface SimilarRow {
  readonly caseId: string;
  readonly shopId: string;
  readonly platformId: string | null;
  readonly openedAt: string;
  readonly complaint: Complaint;
  readonly leadingFault: string | null;
  readonly provedFaults: FaultCode[];
}

export async function casesByIds(tx: Tx, orgId: string, ids: readonly string[]): Promise<SimilarRow[]> {
  const { rows } = await tx.query<SimilarRow>({
    name: 'history.cases',
    text: `select id as "caseId", shop_id as "shopId", platform_id as "platformId", opened_at as "openedAt", complaint,
                  leading_fault as "leadingFault", proved_faults as "provedFaults"
             from shop_case where org_id = $1 and id = any($2) and status <> 'void'`,
    values: [orgId, ids],
  });
  return rows;
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

export async function endedRepairs(tx: Tx, orgId: string, caseIds: readonly string[]): Promise<EndedRepairRow[]> {
  const { rows } = await tx.query<EndedRepairRow>({
    name: 'history.ended-repairs',
    text: `select r.case_id as "caseId", e.fault, e.action, e.intent, e.started_on::text as day, e.end_kind as "end", (e.ended_on - e.started_on)::int as days
             from repair r join episode e on e.org_id = r.org_id and e.repair_id = r.id
            where r.org_id = $1 and r.case_id = any($2) order by e.started_on, e.id`,
    values: [orgId, caseIds],
  });
  return rows;
}
