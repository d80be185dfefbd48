import type { FaultCode, HypothesisCode } from './codes.js';
import type { HypothesisNode } from './node.js';

/** The severities of one hypothesis. */
export interface NodeGroup {
  readonly code: HypothesisCode;
  readonly cascade: FaultCode | null;
  /** Places of its nodes. */
  readonly members: readonly number[];
}

/** Nodes by hypothesis, in the order in which each first appears. */
export function groupsOf(nodes: readonly HypothesisNode[]): NodeGroup[] {
  const byCode = new Map<HypothesisCode, Map<FaultCode | null, number[]>>();
  const groups: NodeGroup[] = [];
  nodes.forEach((node, i) => {
    let causes = byCode.get(node.code);
    if (!causes) {
      causes = new Map();
      byCode.set(node.code, causes);
    }
    const held = causes.get(node.cascade);
    if (held) held.push(i);
    else {
      const members = [i];
      causes.set(node.cascade, members);
      groups.push({ code: node.code, cascade: node.cascade, members });
    }
  });
  return groups;
}

/** For each node the first node of the same circuit: a cascade shows what its effect shows, and is weighed once with it. */
export function twinsOf(nodes: readonly HypothesisNode[]): Int32Array {
  const first = new Map<Float64Array, number[]>();
  return Int32Array.from(nodes, (node, i) => {
    const held = first.get(node.mean);
    if (!held) {
      first.set(node.mean, [i]);
      return i;
    }
    for (const j of held) if (nodes[j]!.spread === node.spread) return j;
    held.push(i);
    return i;
  });
}
