/** Worked examples of the API description, each sent to a running server by a test. */
export const DIAGNOSIS_QUESTION_EXAMPLE = {
  elevationM: 1800,
  system: { layout: 'valve-integral-receiver', compressor: 'fixed-clutch', refrigerant: 'R-134a', chargeG: 560 },
  evidence: {
    conditions: { outsideAir: { value: 29, unit: 'Cel' }, airSource: 'recirculated', minutesRunning: 12 },
    readings: [
      {
        quantity: 'pressure',
        place: 'high-side-port',
        phase: 'running',
        instrument: 'manifold-gauge',
        reference: 'vented-gauge',
        value: 150,
        unit: '[psi]',
      },
      {
        quantity: 'pressure',
        place: 'low-side-port',
        phase: 'running',
        instrument: 'manifold-gauge',
        reference: 'vented-gauge',
        value: 27,
        unit: '[psi]',
      },
      { quantity: 'temperature', place: 'vent', phase: 'running', instrument: 'thermometer', value: 14, unit: 'Cel' },
    ],
  },
};
export const SIMILAR_QUESTION_EXAMPLE = { question: DIAGNOSIS_QUESTION_EXAMPLE, limit: 5 };
/** Everything another engine answered, on one platform. */
export const REDIAGNOSIS_EXAMPLE = { platformId: '0197a2b4-7c00-7000-8000-000000000002' };
