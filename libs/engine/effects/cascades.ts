import { applies, entryOf } from '../catalogue/entries.js';
import { FAULT_CODES, type FaultCode } from '../codes.js';
import { onceAKind } from '../kind.js';
import { type HypothesisNode, hypothesisNode } from '../node.js';

/** Faults whose source may still be running when their consequence shows: debris, moisture, sealant, leaks, heat. */
const SOURCES: readonly FaultCode[] = ['compressor-wear', 'moisture', 'sealant', 'undercharge', 'valve-stuck-open', 'orifice-oversize'];
/** Consequences the circuit itself shows. */
const SHOWN: readonly FaultCode[] = [
  'condenser-passages',
  'filter-cartridge',
  'valve-restricted',
  'orifice-clogged',
  'compressor-leakage',
  'air-in-system',
];

export interface Edge {
  readonly cause: FaultCode;
  readonly effect: FaultCode;
}

/** Pairs along the catalogue's leads-to edges that are hypotheses of their own on this hardware. */
export const cascadeEdges = onceAKind((platform): readonly Edge[] => {
  const present = new Set<FaultCode>(FAULT_CODES.filter((code) => applies(code, platform)));
  return SOURCES.filter((cause) => present.has(cause)).flatMap((cause) =>
    entryOf(cause)
      .leadsTo.filter((effect) => SHOWN.includes(effect) && present.has(effect))
      .map((effect) => ({ cause, effect })),
  );
});

/** The effect's nodes again, with the cause still in place. Its circuit is the effect's; findings and records tell the pair from the effect alone. */
export function cascadeNodes(edges: readonly Edge[], singles: readonly HypothesisNode[]): HypothesisNode[] {
  const nodes: HypothesisNode[] = [];
  for (const { cause, effect } of edges) {
    for (const n of singles) {
      if (n.code !== effect) continue;
      nodes.push(hypothesisNode(n.code, n.severity, n.capacityLost, n.share, n.mean, n.spread, cause, n.simulated, n.lossSigma));
    }
  }
  return nodes;
}
