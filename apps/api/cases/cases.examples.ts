/** Worked examples of the API description. Each is sent to a running server by `tests/contract/examples.test.ts`. */
export const NEW_CASE_EXAMPLE = {
  shopCode: 'harbour-road',
  vehicle: { vin: '1M8GDM9AXKP042788', platformCode: 'heron-c', modelYear: 2019 },
  odometer: { value: 84200, unit: 'km' },
  complaint: 'cools-poorly',
  complaintText: 'Blows lukewarm in town, better on the road',
  evidence: {
    conditions: {
      outsideAir: { value: 31, unit: 'Cel' },
      evaporatorAir: { value: 27, unit: 'Cel' },
      relativeHumidity: { value: 40, unit: '%' },
      airSource: 'recirculated',
      minutesRunning: 10,
    },
    readings: [
      {
        quantity: 'pressure',
        place: 'low-side-port',
        phase: 'running',
        instrument: 'manifold-gauge',
        reference: 'vented-gauge',
        value: 28,
        unit: '[psi]',
      },
      {
        quantity: 'pressure',
        place: 'high-side-port',
        phase: 'running',
        instrument: 'manifold-gauge',
        reference: 'vented-gauge',
        value: 200,
        unit: '[psi]',
      },
      { quantity: 'temperature', place: 'vent', phase: 'running', instrument: 'thermometer', value: 12, unit: 'Cel' },
    ],
  },
};

export const CASE_PATCH_EXAMPLE = {
  complaint: 'cools-at-times',
  notes: 'Owner: worse after a long climb',
  odometer: { value: 84210, unit: 'km' },
};

export const NEW_READINGS_EXAMPLE = {
  readings: [
    {
      quantity: 'pressure',
      place: 'high-side-transducer',
      phase: 'running',
      instrument: 'vehicle-transducer',
      reference: 'sealed-gauge',
      value: 15.6,
      unit: 'bar',
    },
    { quantity: 'temperature', place: 'condenser-outlet', phase: 'running', instrument: 'thermometer', value: 46, unit: 'Cel' },
  ],
};

export const NEW_FINDINGS_EXAMPLE = {
  findings: [{ code: 'condenser-fins-clean' }, { code: 'temperature-step-at-cartridge', note: 'About 12 K, felt and measured' }],
};

export const NEW_PROOF_EXAMPLE = { faults: ['filter-cartridge'], method: 'opened-part', note: 'Cartridge black, desiccant hard' };

export const NEW_REPAIR_EXAMPLE = {
  fault: 'filter-cartridge',
  action: 'replace-filter-cartridge',
  intent: 'temporary',
  day: '2026-06-02',
  parts: [{ name: 'Filter cartridge', quantity: 1, price: 38.5 }],
  recoveredG: 540,
  chargedG: 560,
  labourHours: 1.2,
  cost: 140,
  note: null,
};

/** The order was read wrongly: it was meant to last, and less was charged. */
export const REPAIR_PATCH_EXAMPLE = { intent: 'permanent', chargedG: 540 };

export const CLOSURE_EXAMPLE = { outcome: 'repaired', note: 'Vent 6 °C at 30 °C outside' };
export const VOIDING_EXAMPLE = { reason: 'Opened twice for one order' };
