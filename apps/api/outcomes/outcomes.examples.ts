/** Worked example of the API description, sent to a running server by a test. */
export const COMPARISON_EXAMPLE = {
  a: { fault: 'filter-cartridge', intent: 'temporary' },
  b: { fault: 'filter-cartridge', intent: 'permanent' },
  clock: 'degree-days',
  horizons: [250, 500],
};

export const REBUILD_ORDER_EXAMPLE = { check: true };

export const NEW_OUTCOME_RULES_EXAMPLE = { sameVisitDays: 0, lookBackDays: 730, presenceDays: 365 };
