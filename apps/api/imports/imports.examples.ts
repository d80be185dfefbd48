/** Worked examples of the API description, each sent to a running server by a test. One line of an NDJSON file: */
export const IMPORT_LINE_EXAMPLE = {
  shopCode: 'harbour-road',
  vehicle: { vin: '1M8GDM9AXKP042788', platformCode: 'heron-c' },
  openedAt: '2025-06-02T09:00:00+02:00',
  complaint: 'cools-poorly',
  source: { system: 'orders', reference: 'A-1044', revision: 1 },
  proofs: [{ faults: ['filter-cartridge'], method: 'opened-part' }],
  repairs: [{ fault: 'filter-cartridge', action: 'replace-filter-cartridge', intent: 'temporary', cost: 140 }],
  closure: { outcome: 'repaired' },
};
export const NEW_SAVED_MAPPING_EXAMPLE = {
  name: 'Orders of the eastern shops',
  mapping: {
    columns: [
      { column: 'Order no.', field: 'reference' },
      { column: 'Chassis', field: 'vin' },
      { column: 'Mileage', field: 'odometer', unit: '[mi_i]' },
      { column: 'Work', field: 'line_text' },
    ],
    constants: [{ field: 'system', value: 'orders' }],
    lines: [{ contains: 'cartridge', action: 'replace-filter-cartridge', fault: 'filter-cartridge', intent: 'temporary' }],
    dates: 'day-month-year',
  },
};
export const ROW_CORRECTION_EXAMPLE = { case: IMPORT_LINE_EXAMPLE };
