/** Worked examples of the API description. Each is sent to a running server by `tests/contract/examples.test.ts`. */
export const NEW_CASE_EXAMPLE = {
  shopCode: 'harbour-road',
  vehicle: { vin: '1M8GDM9AXKP042788', modelYear: 2019 },
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
