import type { CircuitCycles, DiagnosisQuestion, RefrigerantName, SaturationCurve } from '#libs/contracts/index.js';
import { circuitCycles } from '#libs/engine/index.js';
import { fluid, saturationCurve } from '#libs/refrigerant/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import type { DiagnosisService } from './diagnosis.service.js';

/** The refrigerant on its way round, for the pressure-enthalpy diagram. Nothing is stored. */
export class CycleService {
  constructor(
    private readonly context: CasebookContext,
    private readonly diagnosis: DiagnosisService,
  ) {}

  /** The dome of a refrigerant. A property of the substance: nobody's data. */
  saturation(refrigerant: RefrigerantName): SaturationCurve {
    return {
      refrigerant,
      source: `Saturation from the equation of state: ${fluid(refrigerant).record.equation.source}`,
      points: saturationCurve(refrigerant).map(({ T, p, hL, hV }) => ({
        temperatureK: T,
        pressurePa: p,
        liquidEnthalpyJPerKg: hL,
        vapourEnthalpyJPerKg: hV,
      })),
    };
  }

  /** Of readings that are not saved. */
  async cyclesOfReadings(actor: Actor, question: DiagnosisQuestion): Promise<CircuitCycles> {
    requirePermission(actor, 'diagnoses:run');
    return this.context.inTenant(actor.orgId, async (tx) => answered(await this.diagnosis.inputOfQuestion(tx, actor, question)), {
      readOnly: true,
    });
  }

  /** Of a case, from its latest evidence before any repair. */
  async cyclesOfCase(actor: Actor, caseId: string): Promise<CircuitCycles> {
    requirePermission(actor, 'cases:read');
    return this.context.inTenant(actor.orgId, async (tx) => answered(await this.diagnosis.inputOfCase(tx, actor, caseId)), {
      readOnly: true,
    });
  }
}

/** The engine's type and the wire shape are the same by construction: here the compiler checks it. */
function answered(input: Parameters<typeof circuitCycles>[0]): CircuitCycles {
  const { refrigerant, healthy, seen, cautions } = circuitCycles(input);
  const own = (states: typeof healthy) => states.map((state) => ({ ...state, readings: [...state.readings] }));
  return { refrigerant, healthy: own(healthy), seen: own(seen), cautions: [...cautions] };
}
