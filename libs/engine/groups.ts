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
  // Severities of one hypothesis follow one another, so that most nodes join the group before them.
  let last: { code: HypothesisCode; cascade: FaultCode | null; members: number[] } | undefined;
  nodes.forEach((node, i) => {
    if (last && last.code === node.code && last.cascade === node.cascade) {
      last.members.push(i);
      return;
    }
    let causes = byCode.get(node.code);
    if (!causes) {
      causes = new Map();
      byCode.set(node.code, causes);
    }
    const members = causes.get(node.cascade) ?? [];
    members.push(i);
    last = { code: node.code, cascade: node.cascade, members };
    if (members.length > 1) return;
    causes.set(node.cascade, members);
    groups.push(last);
  });
  return groups;
}

/**
 * For each node the first node of the same circuit: a cascade shows what its effect shows, and is weighed once with it. A spread is one fault's own, so that
 * only hypotheses without one can show the same as others do.
 */
export function twinsOf(nodes: readonly HypothesisNode[]): Int32Array {
  const out = new Int32Array(nodes.length);
  const plain: number[] = [];
  const byCode = new Map<HypothesisCode, number[]>();
  for (let i = 0; i < nodes.length; i++) {
    const { code, mean, spread } = nodes[i]!;
    let before = spread === null ? plain : byCode.get(code);
    if (!before) {
      before = [];
      byCode.set(code, before);
    }
    let twin = i;
    for (let k = 0; k < before.length && twin === i; k++) {
      const other = nodes[before[k]!]!;
      if (other.mean === mean && other.spread === spread) twin = before[k]!;
    }
    if (twin === i) before.push(i);
    out[i] = twin;
  }
  return out;
}
