/** Tables that leave with the organisation, parents first, and the columns that put their rows in order. */
export const EXPORTED: Readonly<Record<string, readonly [string, ...string[]]>> = {
  shop: ['id'],
  platform: ['id'],
  member: ['id'],
  policy: ['id'],
  outcome_rules: ['id'],
  import_mapping: ['id'],
  shop_weather: ['shop_id', 'year'],
  charging_machine: ['id'],
  refrigerant_cylinder: ['id'],
  refrigerant_entry: ['id'],
  vehicle: ['id'],
  vehicle_merge: ['id'],
  sighting: ['id'],
  shop_case: ['id'],
  case_evidence: ['case_id', 'revision'],
  diagnosis: ['id'],
  case_signature: ['case_id'],
  proof: ['id'],
  photograph: ['id'],
  repair: ['id'],
  episode: ['id'],
  audit_event: ['id'],
};

/** Tables of earlier exports that are none any more: their rows said nothing that others do not. */
export const ONCE_EXPORTED: readonly string[] = ['case_word'];

/** Rows of a table that are read or put back at once; pictures weigh up to a megabyte each as text. */
export const rowsAtOnce = (table: string): number => (table === 'photograph' ? 8 : 200);

/** Tables that stay behind: secrets, work in progress, and what is derived again; children first, as they are erased. */
export const LEFT_BEHIND = [
  'console_session',
  'trusted_document',
  'sign_in_service',
  'member_pin',
  'key_usage',
  'access_key',
  'idempotency_key',
  'outbox_event',
  'task',
  'import_chunk',
  'import_row',
  'import_run',
  'webhook_delivery',
  'webhook',
  'pattern_score',
  'pattern_scoring',
  'watch_scoring',
  'board_line',
  'board_roll',
  'board_change',
  'episode_pack',
  'episode_packing',
  'platform_expectation',
  'rediagnosis_change',
  'rediagnosis',
] as const;

/** Every table of an organisation, children before their parents. */
export const ERASED: readonly string[] = [...LEFT_BEHIND, ...Object.keys(EXPORTED).reverse(), 'organisation'];
