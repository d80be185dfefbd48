import type { HypothesisCode } from '../codes.js';
import type { EnginePlatform, Equipment } from '../evidence.js';

/** A test a technician can make, with how often it comes out positive under each hypothesis. */
export interface TestKind {
  readonly code: string;
  readonly name: string;
  readonly how: string;
  readonly why: string;
  readonly handsOnMinutes: number;
  readonly waitMinutes: number;
  readonly needs: readonly Equipment[];
  readonly destroysEvidence: boolean;
  /** Chance of a positive outcome; `other` for hypotheses not named. Trade judgement where the circuit model has no such physics. */
  readonly positive: Partial<Record<HypothesisCode, number>>;
  readonly other: number;
  /** Observations that make the test superfluous. */
  readonly answeredBy: readonly string[];
  readonly fits?: (platform: EnginePlatform) => boolean;
}

export const valve = (p: EnginePlatform) => p.layout !== 'orifice-accumulator';
export const integral = (p: EnginePlatform) => p.layout === 'valve-integral-receiver';
export const orifice = (p: EnginePlatform) => p.layout === 'orifice-accumulator';
export const variable = (p: EnginePlatform) => p.compressor === 'variable' || p.compressor === 'variable-commanded';
export const electric = (p: EnginePlatform) => p.compressor === 'electric';
export const belt = (p: EnginePlatform) => p.compressor !== 'electric';

type Row = Omit<TestKind, 'needs' | 'destroysEvidence' | 'answeredBy'> &
  Partial<Pick<TestKind, 'needs' | 'destroysEvidence' | 'answeredBy'>>;
export const test = (row: Row): TestKind => ({ needs: [], destroysEvidence: false, answeredBy: [], ...row });
