/** Worked examples of the API description, each sent to a running server by a test. */
export const VEHICLE_LOOKUP_EXAMPLE = { vin: '1M8GDM9AXKP042788' };
/** The identifier is a stand-in: take one from the list of shops. */
export const NEW_SIGHTING_EXAMPLE = {
  shopId: '0197a2b4-7c00-7000-8000-000000000001',
  vehicle: { vin: '1M8GDM9AXKP042788' },
  day: '2026-09-14',
  odometer: { value: 88100, unit: 'km' },
};
/** The identifier is a stand-in for the other record. */
export const NEW_MERGE_EXAMPLE = {
  mergedId: '0197a2b4-7c00-7000-8000-000000000003',
  reason: 'Same odometer and the same dented wing; the first visit had a mistyped VIN.',
};
