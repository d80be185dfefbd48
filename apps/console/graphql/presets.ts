export interface Preset {
  readonly name: string;
  readonly query: string;
  readonly variables: string;
}

/** One opening query for each kind of visitor. */
export const PRESETS: readonly Preset[] = [
  {
    name: 'Director',
    query: `# What recurs, the surest returns first
query Recurrences($question: BoardQuestionInput) {
  recurrences(question: $question) {
    clock
    horizon
    lines {
      platformName
      fault
      intent
      probability
      low
      high
      episodes
      returns
    }
  }
}`,
    variables: `{ "question": { "minimumEpisodes": 20 } }`,
  },
  {
    name: 'Technician',
    query: `# Judge readings without saving anything
query Judge($input: DiagnosisQuestionInput!) {
  diagnoseReadings(input: $input) {
    status
    summary
    faults { code name probability }
    restriction { after before dropPa candidates }
    nextTests { name how handsOnMinutes }
    trust { level message remedy }
  }
}`,
    variables: `{
  "input": {
    "elevationM": 1800,
    "system": { "layout": "valve_integral_receiver", "compressor": "fixed_clutch", "refrigerant": "R_134a" },
    "evidence": {
      "conditions": { "outsideAir": { "value": 30, "unit": "Cel" } },
      "readings": [
        { "quantity": "pressure", "place": "liquid_line_after_drier", "phase": "running", "instrument": "manifold_gauge", "value": 150, "unit": "[psi]" },
        { "quantity": "pressure", "place": "compressor_discharge", "phase": "running", "instrument": "vehicle_transducer", "value": 260, "unit": "[psi]" }
      ]
    }
  }
}`,
  },
  {
    name: 'Integrator',
    query: `# What came in last, with who this key is
query CameIn {
  me { organisationName role permissions }
  cases(first: 10) {
    data { id status complaint openedAt leadingFault leadingProbability }
    next
  }
}`,
    variables: '{}',
  },
];
