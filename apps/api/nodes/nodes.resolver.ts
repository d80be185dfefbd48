import { Args, ID, Query, Resolver } from '@nestjs/graphql';
import { z } from 'zod';
import { type NodeKind, parseInput } from '#libs/casebook/index.js';
import { DomainError, Id } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller } from '../graphql/arguments.js';
import { NODE_TYPES, NodeType } from '../graphql/derive.js';

type Found = { readonly id: string; readonly __typename: NodeKind } | null;
const NodeIds = z.array(z.string().max(80)).max(100);

const READERS: Readonly<Record<NodeKind, (call: GraphCall, id: string) => Promise<{ readonly id: string }>>> = {
  Case: ({ casebook, actor }, id) => casebook.cases.getCase(actor, id),
  ImportRun: ({ casebook, actor }, id) => casebook.imports.getImport(actor, id),
  Platform: ({ casebook, actor }, id) => casebook.platforms.getPlatform(actor, id),
  Shop: ({ casebook, actor }, id) => casebook.shops.getShop(actor, id),
  Task: ({ casebook, actor }, id) => casebook.tasks.getTask(actor, id),
  Vehicle: ({ casebook, actor }, id) => casebook.vehicles.getVehicle(actor, id),
};

/** Relay's `node` and `nodes`: by `nodeId`, or by the plain identifier that REST uses. What is not there for this key is null. */
@Resolver()
export class NodesResolver {
  @Query(() => NodeType, { nullable: true, description: 'Anything by its nodeId, or by its id' })
  async node(@GraphCaller() call: GraphCall, @Args('id', { type: () => ID }) id: string): Promise<Found> {
    return (await this.nodes(call, [id]))[0]!;
  }

  @Query(() => [NodeType], { nullable: 'items', description: 'Up to a hundred things by their nodeId or id, in the order asked for' })
  async nodes(@GraphCaller() call: GraphCall, @Args('ids', { type: () => [ID] }) ids: string[]): Promise<Found[]> {
    const asked = parseInput(NodeIds, ids).map(parts);
    const plain = asked.flatMap((one) => (one && one.kind === null ? [one.id] : []));
    const kinds = plain.length > 0 ? await call.casebook.nodes.kindsOf(call.actor, plain) : new Map<string, NodeKind>();
    return Promise.all(
      asked.map(async (one) => {
        const kind = one && (one.kind ?? kinds.get(one.id));
        if (!kind) return null;
        try {
          return { ...(await READERS[kind](call, one.id)), __typename: kind };
        } catch (error) {
          if (error instanceof DomainError && error.kind === 'not_found') return null;
          throw error;
        }
      }),
    );
  }
}

/** `Case:0198…` or `0198…`; null for what names nothing here. */
function parts(text: string): { readonly kind: NodeKind | null; readonly id: string } | null {
  const [head, tail] = text.split(':', 2) as [string, string?];
  const id = tail ?? head;
  if (!Id.safeParse(id).success) return null;
  if (tail === undefined) return { kind: null, id };
  const kind = NODE_TYPES.find((type) => type === head);
  return kind ? { kind, id } : null;
}
