import { STATUS_OF_KIND } from '#libs/contracts/index.js';
import { titleOf } from '../http/problem.js';

/** What a problem means and how it is mended, by the slug its `type` names. Generic words for every code; special ones where they help. */
interface ProblemText {
  readonly code: string;
  readonly status: number;
  readonly meaning: string;
  readonly remedy: string;
}

const entry = (code: string, kind: keyof typeof STATUS_OF_KIND, meaning: string, remedy: string): ProblemText => ({
  code,
  status: STATUS_OF_KIND[kind],
  meaning,
  remedy,
});

export const PROBLEMS: readonly ProblemText[] = [
  entry(
    'access/unauthenticated',
    'unauthenticated',
    'The key is missing, damaged, unknown, expired or revoked.',
    'Send "Authorization: Bearer cbk_…". Ask an administrator for a new key if it has ended.',
  ),
  entry(
    'access/forbidden',
    'forbidden',
    'The credential is good, but its role or scope does not include this operation.',
    'The detail names the permission that is missing. Ask an administrator for a key that has it.',
  ),
  entry('access/key_not_found', 'not_found', 'No such key in your organisation.', 'List keys with GET /v1/keys.'),
  entry('access/member_not_found', 'not_found', 'No such person in your organisation.', 'List members with GET /v1/members.'),
  entry(
    'access/key_too_wide',
    'invalid',
    'A key may not do more than its role, nor open more shops than its issuer.',
    'Leave out the permissions or shops that errors names.',
  ),
  entry(
    'access/no_session',
    'unauthenticated',
    'The cookie of the session is missing, unknown, ended or run out, or its key was revoked.',
    'Open a session with POST /v1/session and a key.',
  ),
  entry(
    'access/nobody_signed_in',
    'unauthenticated',
    'The device is shared, and nobody has signed in, or whoever had did nothing for half an hour.',
    'Pick a name of GET /v1/session/people and send it with its PIN to POST /v1/session/person.',
  ),
  entry(
    'access/cross_site',
    'forbidden',
    'A page of another site, or a program that says nothing of where it comes from, used the cookie of a session.',
    'Programs send a key in the Authorization header.',
  ),
  entry(
    'access/pin_refused',
    'invalid',
    'The PIN is not that of the person, or the person cannot sign in here.',
    'Type it again; an administrator can set a new one with POST /v1/members/{id}/pin.',
  ),
  entry(
    'access/pin_paused',
    'limited',
    'Five wrong PINs of one person, or twenty at one device.',
    'Wait as long as Retry-After says, or have an administrator set a new PIN.',
  ),
  entry('access/pin_weak', 'invalid', 'One digit throughout, or digits that follow each other.', 'Choose digits without a pattern.'),
  entry(
    'access/shared_needs_key',
    'invalid',
    'A token of a sign-in service names one person, and a shared device must outlive them.',
    'Issue a key with the role and the shops of the device.',
  ),
  entry(
    'vehicles/merge_refused',
    'conflict',
    'These two records cannot be merged so: one is the other, is merged already, or carries the VIN that would be lost.',
    'The detail says what to do instead.',
  ),
  entry('vehicles/merge_not_found', 'not_found', 'No such merge of this vehicle.', 'List them with GET /v1/vehicles/{id}/merges.'),
  entry(
    'outcomes/mixed_refrigerants',
    'invalid',
    'The two groups of a comparison are of platforms with different refrigerants: whatever differs need not be the repair.',
    'Compare platforms or families of one refrigerant.',
  ),
  entry(
    'outcomes/one_of_parts',
    'invalid',
    'A table can tell parts apart by number, brand or lot, not by two of them at once.',
    'Ask for one of them, and filter by the others.',
  ),
  entry(
    'ledger/machine_not_found',
    'not_found',
    'No such machine, or it stands at a shop that is not yours (of a repair: not at the shop of the case).',
    'List machines with GET /v1/machines.',
  ),
  entry(
    'ledger/cylinder_not_found',
    'not_found',
    'No such cylinder, or it lies at a shop that is not yours.',
    'List cylinders with GET /v1/cylinders.',
  ),
  entry(
    'ledger/entry_not_found',
    'not_found',
    'No such entry, or it is of a shop that is not yours.',
    'List entries with GET /v1/refrigerant-entries.',
  ),
  entry(
    'ledger/in_use',
    'conflict',
    'What was weighed with a machine or a cylinder stays in the books, so it cannot be deleted.',
    'Set retiredOn to the day it went out of use.',
  ),
  entry(
    'ledger/contradiction',
    'invalid',
    'The entry contradicts itself or the cylinder or machine it names: another refrigerant, another shop, more than it holds, a day to come.',
    'errors names the field and says what stands against it.',
  ),
  entry(
    'access/issuer_unreachable',
    'unavailable',
    'The sign-in service did not give its description or its keys.',
    'Check that https://…/.well-known/openid-configuration of the issuer answers from the internet; try again after Retry-After.',
  ),
  entry(
    'access/issuer_refused',
    'invalid',
    'The address cannot be an issuer: not https, not on the public internet, or with credentials in it.',
    'Give the issuer exactly as its tokens do.',
  ),
  entry(
    'access/subject_taken',
    'conflict',
    'Two people of one organisation cannot have the same subject.',
    'Give each person the subject the sign-in service has for them.',
  ),
  entry(
    'graphql/too_large',
    'malformed',
    'The query is longer, deeper or wider than one request may be: characters, tokens, depth, aliases, directives, root fields, or things it could read.',
    'errors names the limit. Ask in several requests, with smaller pages or fewer fields.',
  ),
  entry(
    'documents/not_found',
    'not_found',
    'No document with this hash, or with this identifier, is trusted by your organisation.',
    'Send its text to POST /v1/documents. A hash is taken of the text to the byte.',
  ),
  entry(
    'documents/too_many',
    'conflict',
    'An organisation may trust a thousand documents.',
    'List them with GET /v1/documents and delete those that no client asks for any more.',
  ),
  entry(
    'documents/only_trusted',
    'forbidden',
    'The key was issued for trusted documents only.',
    'Send a documentId instead of a query; have new documents trusted with another key.',
  ),
  entry(
    'cases/not_found',
    'not_found',
    'The case does not exist, or belongs to a shop you may not open. The two are not told apart.',
    'Check the identifier; list cases with GET /v1/cases.',
  ),
  entry(
    'cases/not_open',
    'conflict',
    'Evidence of a closed case does not change any more.',
    'Record proof or repair on it, or open a new case.',
  ),
  entry('cases/void', 'conflict', 'A void case takes no changes.', 'Open a new case.'),
  entry(
    'cases/source_elsewhere',
    'conflict',
    'An order with this reference is stored for a shop that the credential may not open.',
    'Send it with a key of its shop, or give each shop a source.system of its own.',
  ),
  entry(
    'cases/source_revision_not_newer',
    'conflict',
    'The order is stored already at this or a higher revision, with another body.',
    'Raise source.revision when the order changed; send the same body when it did not.',
  ),
  entry(
    'cases/implausible',
    'invalid',
    'A value cannot be physically right, usually because of its unit or its reference.',
    'errors names each value, what is wrong with it and the likely slip.',
  ),
  entry(
    'cases/too_much_evidence',
    'invalid',
    'A case holds a limited number of readings and findings.',
    'Open another case for another visit.',
  ),
  entry(
    'diagnosis/rediagnosis_not_found',
    'not_found',
    'No such re-diagnosis in your organisation.',
    'List them with GET /v1/rediagnoses.',
  ),
  entry(
    'diagnosis/system_unknown',
    'invalid',
    'The engine must know the layout, the compressor kind and the refrigerant.',
    'Name a platform, or answer the three questions in "system".',
  ),
  entry(
    'graphql/invalid',
    'malformed',
    'The query of GraphQL was refused before it ran: its syntax, its types or its depth.',
    'The message names the place. The schema is in docs/contract/schema.graphql and by introspection.',
  ),
  {
    code: 'internal',
    status: 500,
    meaning: 'Something went wrong on our side. Nothing was stored.',
    remedy: 'Repeat the request with the same Idempotency-Key; quote traceId when you report it.',
  },
  entry(
    'imports/heading',
    'invalid',
    'The first line of the file holds a heading that nobody knows, twice, or lacks one that the mapping wants.',
    'errors names each column. Change the heading, map it, or set ignoreUnknownColumns in the mapping.',
  ),
  entry(
    'imports/mapping_not_found',
    'not_found',
    'No mapping of this name is saved.',
    'List mappings with GET /v1/imports/mappings; save one with POST.',
  ),
  entry('imports/not_done', 'conflict', 'Rows are corrected once the whole file was worked through.', 'Wait until the state is "done".'),
  entry('imports/not_found', 'not_found', 'No such import that you may see.', 'List imports with GET /v1/imports.'),
  entry(
    'imports/row_not_found',
    'not_found',
    'The import has no row that begins at this line.',
    'List rows with GET /v1/imports/{id}/rows.',
  ),
  entry(
    'imports/row_not_rejected',
    'conflict',
    'The row was taken already, or what was sent is no longer kept (30 days).',
    'Send the order again, as a case or in a new file.',
  ),
  entry(
    'imports/too_large',
    'too_large',
    'The file is larger, once inflated, than this service takes.',
    'Split the file. Orders that are here already change nothing.',
  ),
  entry(
    'imports/underway',
    'conflict',
    'Another connection is sending a file under the same Idempotency-Key.',
    'Wait some seconds, then send the file again with the same key.',
  ),
  entry(
    'imports/unreadable',
    'malformed',
    'The file is empty, damaged, cut, or not the text it says it is.',
    'The detail says what is wrong. Send UTF-8 NDJSON, or CSV with a heading.',
  ),
  entry(
    'leaving/export_unreadable',
    'invalid',
    'The file is not a whole export of this program, or the passphrase is another one. Nothing was founded.',
    'Take the export again, and keep its passphrase.',
  ),
  entry('paging/bad_cursor', 'invalid', 'The cursor is damaged or belongs to another list or filter.', 'Start again without "after".'),
  entry('platforms/code_taken', 'conflict', 'Codes of platforms are unique in an organisation.', 'Choose another code.'),
  entry('platforms/not_found', 'not_found', 'No such platform in your organisation.', 'List platforms with GET /v1/platforms.'),
  entry(
    'request/bad_content_digest',
    'malformed',
    'Content-Digest could not be read.',
    'Write sha-256=:base64: as in RFC 9530, or leave it out.',
  ),
  entry(
    'request/bad_if_match',
    'malformed',
    'If-Match holds something else than one strong ETag.',
    'Send it as it was given, e.g. If-Match: "3".',
  ),
  entry('request/body_too_large', 'too_large', 'The body is larger than this service takes.', 'Send less at once.'),
  entry(
    'request/idempotency_key_missing',
    'malformed',
    'Creating requests must be repeatable without doubling.',
    'Send an Idempotency-Key header, new for each new request, the same for each repetition.',
  ),
  entry(
    'request/invalid',
    'invalid',
    'Something in the request does not fit its description; errors lists every fault at once.',
    'Each error has a JSON pointer, a detail and mostly a remedy.',
  ),
  entry(
    'request/malformed_json',
    'malformed',
    'The body is not I-JSON (RFC 7493): UTF-8, no duplicate names, numbers in double range, nesting at most 64.',
    'The detail names the place.',
  ),
  entry('request/no_such_route', 'not_found', 'Nothing is served at this address.', 'See /docs.'),
  entry('request/too_many', 'limited', 'The credential used up its requests for this minute.', 'Wait as long as Retry-After says.'),
  entry('request/unsupported_encoding', 'unsupported', 'The Content-Encoding is not taken here.', 'gzip, or none.'),
  entry(
    'request/unsupported_file',
    'unsupported',
    'The content type of the file is not taken here.',
    'application/x-ndjson, text/csv or text/tab-separated-values.',
  ),
  entry(
    'request/unsupported_media_type',
    'unsupported',
    'The content type of the body is not taken here.',
    'application/json, or application/merge-patch+json for PATCH.',
  ),
  entry('requests/bad_key', 'malformed', 'The Idempotency-Key has a form that is not taken.', '1 to 255 printable ASCII characters.'),
  entry('requests/key_in_use', 'conflict', 'The first request with this Idempotency-Key is still running.', 'Repeat it after a second.'),
  entry('requests/key_reused', 'invalid', 'The Idempotency-Key belongs to another request.', 'A new key for a new request.'),
  entry(
    'service/connection_lost',
    'unavailable',
    'The database connection was lost. Nothing was stored.',
    'Repeat the request with the same Idempotency-Key.',
  ),
  entry(
    'service/contention',
    'unavailable',
    'Two requests waited for each other and this one was given up. Nothing was stored.',
    'Repeat the request.',
  ),
  entry(
    'service/disk_full',
    'unavailable',
    'The database has no room left. Nothing was stored.',
    'Free disk space on the database server, then repeat the request.',
  ),
  entry('service/read_only', 'unavailable', 'The database takes no writes at the moment.', 'Repeat the request later.'),
  entry('service/shutting_down', 'unavailable', 'The database is shutting down or starting.', 'Repeat the request in a few seconds.'),
  entry(
    'service/timeout',
    'unavailable',
    'The database did not answer in time. Nothing was stored.',
    'Repeat the request; narrow it when it keeps happening.',
  ),
  entry('service/too_many_connections', 'unavailable', 'All database connections are in use.', 'Repeat the request in a few seconds.'),
  entry('shops/code_taken', 'conflict', 'Codes of shops are unique in an organisation.', 'Choose another code.'),
  entry(
    'shops/not_found',
    'not_found',
    'The shop does not exist, or you may not use it. The two are not told apart.',
    'List your shops with GET /v1/shops.',
  ),
  entry(
    'outcomes/day_out_of_reach',
    'invalid',
    'The question is about a day for which no clock runs: more than a year from today.',
    'Ask about a day within a year of today, or leave the day out.',
  ),
  entry(
    'shops/unnamed',
    'invalid',
    'The request needs a shop, and the credential may use more than one.',
    'Name the shop; list yours with GET /v1/shops.',
  ),
  entry(
    'outcomes/period_upside_down',
    'invalid',
    'The period ends before or when it begins.',
    'Give an "until" after "since"; "since" is a year ago when left out.',
  ),
  entry('policies/not_found', 'not_found', 'No such policy in your organisation.', 'List policies with GET /v1/policies?state=all.'),
  entry(
    'policies/contradicts',
    'conflict',
    'Another policy in force rules on the same repair, or requires another one, for the fault on the platform.',
    'End the other one first with DELETE /v1/policies/{id}; the detail names it.',
  ),
  entry(
    'policies/day_out_of_reach',
    'invalid',
    'A policy begins at most a year from today.',
    'Give a day within a year, or leave it out for today.',
  ),
  entry('tasks/not_found', 'not_found', 'No such task in your organisation.', 'List tasks with GET /v1/tasks.'),
  entry(
    'vehicles/not_found',
    'not_found',
    'Your organisation has not seen this vehicle.',
    'Check the number; open a case for a new vehicle.',
  ),
  entry('vehicles/unnamed', 'invalid', 'A look-up needs a VIN or a plate.', 'Send one of them in the body.'),
  entry(
    'webhooks/delivery_not_found',
    'not_found',
    'The webhook has no such delivery.',
    'List deliveries with GET /v1/webhooks/{id}/deliveries.',
  ),
  entry(
    'webhooks/needs_all_shops',
    'forbidden',
    'Events tell of every shop, and the credential is limited to some.',
    'Ask an administrator for a key without that limit.',
  ),
  entry('webhooks/not_found', 'not_found', 'No such webhook in your organisation.', 'List webhooks with GET /v1/webhooks.'),
  entry(
    'webhooks/target_refused',
    'invalid',
    'Deliveries go to https addresses on the public internet only.',
    'Give such an address, without credentials in it.',
  ),
  entry(
    'versions/required',
    'precondition_required',
    'Changes must say which version they were made to.',
    'Send If-Match with the ETag you read.',
  ),
  entry(
    'versions/stale',
    'precondition_failed',
    'Somebody changed it after you read it.',
    'Read it again and make your change to what is there now.',
  ),
];

export const slugOf = (code: string) => code.replaceAll('/', '-').replaceAll('_', '-');

const escaped = (text: string) => text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');

const page = (title: string, body: string) =>
  `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>${escaped(title)} · Coolback</title>
<style>body{font:16px/1.6 system-ui,sans-serif;max-width:44rem;margin:3rem auto;padding:0 1rem;color:#1d2a26;background:#fbfaf6}code{background:#ece8dc;padding:.1em .3em}a{color:#175c4c}</style></head><body><main>${body}</main></body></html>`;

/** The page a problem's `type` points to, or null for a slug that no problem has. */
export function problemPage(slug: string): string | null {
  const problem = PROBLEMS.find((one) => slugOf(one.code) === slug);
  if (!problem) return null;
  return page(
    titleOf(problem.code),
    `<h1>${escaped(titleOf(problem.code))}</h1><p><code>${problem.code}</code> · HTTP ${problem.status}</p><h2>What it means</h2><p>${escaped(problem.meaning)}</p><h2>What to do</h2><p>${escaped(problem.remedy)}</p><p><a href="/problems">All problems</a> · <a href="/docs">API reference</a></p>`,
  );
}

export function problemIndex(): string {
  const rows = PROBLEMS.map(
    (one) => `<li><a href="/problems/${slugOf(one.code)}"><code>${one.code}</code></a> (${one.status}): ${escaped(one.meaning)}</li>`,
  ).join('');
  return page(
    'Problems',
    `<h1>Problems</h1><p>Every refusal of this service is one of these, as a problem document (RFC 9457).</p><ul>${rows}</ul>`,
  );
}
