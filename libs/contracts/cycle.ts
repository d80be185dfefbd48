import { z } from 'zod';
import { Place } from './evidence.js';
import { RefrigerantName } from './platform.js';

export const SaturationQuestion = z.strictObject({ refrigerant: RefrigerantName }).meta({ id: 'SaturationQuestion' });
export type SaturationQuestion = z.infer<typeof SaturationQuestion>;

const SaturationPoint = z
  .strictObject({
    temperatureK: z.number(),
    pressurePa: z.number().describe('Absolute'),
    liquidEnthalpyJPerKg: z.number().describe('Specific enthalpy, 200 kJ/kg for saturated liquid at 0 °C'),
    vapourEnthalpyJPerKg: z.number(),
  })
  .meta({ id: 'SaturationPoint' });
export const SaturationCurve = z
  .strictObject({ refrigerant: RefrigerantName, source: z.string(), points: z.array(SaturationPoint) })
  .meta({ id: 'SaturationCurve', description: 'Liquid and vapour in equilibrium, from -40 °C to the critical point.' });
export type SaturationCurve = z.infer<typeof SaturationCurve>;

export const CircuitState = z
  .strictObject({
    place: Place,
    pressurePa: z.number().describe('Absolute'),
    pressureAt: Place.describe('Where the pressure was read or expected: the place itself, or its neighbour along an open line'),
    saturationK: z.number(),
    temperatureK: z.number().nullable(),
    enthalpyJPerKg: z
      .number()
      .nullable()
      .describe('Null where pressure and temperature do not tell it; 200 kJ/kg for saturated liquid at 0 °C'),
    phase: z.enum(['liquid', 'mixture', 'vapour']).meta({ id: 'RefrigerantPhase' }).nullable(),
    reckoned: z.boolean().describe('Not read: throttling leaves the enthalpy as it was'),
    pressureErrorPa: z.number().nullable().describe('One standard deviation of what is expected'),
    temperatureErrorK: z.number().nullable(),
    readings: z.array(z.string()),
  })
  .meta({ id: 'CircuitState' });
export type CircuitState = z.infer<typeof CircuitState>;

export const CircuitCycles = z
  .strictObject({
    refrigerant: RefrigerantName,
    healthy: z.array(CircuitState).describe('In flow order, from the compressor inlet'),
    seen: z.array(CircuitState),
    cautions: z.array(z.string()),
  })
  .meta({ id: 'CircuitCycles', description: 'The states of the refrigerant around the circuit: expected of a sound system, and read.' });
export type CircuitCycles = z.infer<typeof CircuitCycles>;
