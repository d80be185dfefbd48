/** Worked example of the API description, sent to a running server by a test; the platform stands for one of the organisation's own. */
export const NEW_POLICY_EXAMPLE = {
  platformId: '0197a2b4-7c00-7000-8000-000000000002',
  fault: 'filter-cartridge',
  action: 'replace-filter-cartridge',
  rule: 'forbid',
  note: 'A cartridge alone rarely lasts a summer on this platform: replace compressor and condenser with it.',
};
