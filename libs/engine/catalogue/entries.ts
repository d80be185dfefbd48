import { FAULT_CODES, type FaultCode, HYPOTHESIS_CODES, type HypothesisCode } from '../codes.js';
import type { EnginePlatform } from '../evidence.js';
import type { CatalogueEntry } from '../result.js';
import { CIRCUIT_FAULTS } from './circuit.js';
import { MACHINE_FAULTS } from './machine.js';
import { MEASUREMENT_ERRORS } from './measurement.js';

const byCode = new Map<string, CatalogueEntry>(
  [...CIRCUIT_FAULTS, ...MACHINE_FAULTS, ...MEASUREMENT_ERRORS].map((entry) => [entry.code, entry]),
);

/** Everything the engine weighs: the 33 faults in catalogue order, then the five measurement errors. */
export const CATALOGUE: readonly CatalogueEntry[] = HYPOTHESIS_CODES.map((code) => entryOf(code));

export function entryOf(code: HypothesisCode): CatalogueEntry {
  const entry = byCode.get(code);
  if (!entry) throw new Error(`The catalogue has no entry ${code}`);
  return entry;
}

export function isFault(code: HypothesisCode): code is FaultCode {
  return (FAULT_CODES as readonly string[]).includes(code);
}

/** Whether a hypothesis can exist on this hardware at all. */
export function applies(code: HypothesisCode, platform: EnginePlatform): boolean {
  if (!entryOf(code).layouts.includes(platform.layout)) return false;
  const variable = platform.compressor === 'variable' || platform.compressor === 'variable-commanded';
  switch (code) {
    case 'displacement-stuck-low':
    case 'displacement-stuck-high':
      return variable;
    case 'electric-compressor-limited':
      return platform.compressor === 'electric';
    case 'clutch-slip':
      return platform.compressor !== 'electric';
    case 'second-circuit':
      return platform.dualEvaporator !== false;
    default:
      return true;
  }
}
