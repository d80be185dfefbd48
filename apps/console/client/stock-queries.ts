import { useInfiniteQuery, useMutation, useQuery, useQueryClient } from '@tanstack/react-query';
import { answer, newRequestKey, server } from './client.ts';
import type {
  Cylinder,
  CylinderPatch,
  Machine,
  MachinePatch,
  NewCylinder,
  NewMachine,
  NewRefrigerantEntry,
  RefrigerantEntryFilter,
  RefrigerantEntryPatch,
} from './generated/api.ts';
import { everyPage } from './queries.ts';

const creating = () => ({ 'Idempotency-Key': newRequestKey() });
const changing = (version: number) => ({ 'If-Match': `"${version}"` });
const MERGE = { 'content-type': 'application/merge-patch+json' };

interface Change<Patch> {
  readonly id: string;
  readonly version: number;
  readonly body: Patch;
}

export function useMachines() {
  return useQuery({
    queryKey: ['stock', 'machines'],
    queryFn: () => everyPage<Machine>((after) => answer(server.GET('/v1/machines', { params: { query: { first: 100, after } } }))),
  });
}

export function useCylinders() {
  return useQuery({
    queryKey: ['stock', 'cylinders'],
    queryFn: () => everyPage<Cylinder>((after) => answer(server.GET('/v1/cylinders', { params: { query: { first: 100, after } } }))),
  });
}

export function useEntries(filter: RefrigerantEntryFilter) {
  return useInfiniteQuery({
    queryKey: ['stock', 'entries', filter],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) =>
      answer(server.GET('/v1/refrigerant-entries', { params: { query: { ...filter, first: 50, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
  });
}

/** Changes of what is held; the books are read anew after each. */
export function useStockActions() {
  const client = useQueryClient();
  const onSuccess = async () => {
    await client.invalidateQueries({ queryKey: ['stock'] });
    await client.invalidateQueries({ queryKey: ['refrigerant-ledger'] });
  };
  return {
    enter: useMutation({
      mutationFn: (body: NewRefrigerantEntry) => answer(server.POST('/v1/refrigerant-entries', { params: { header: creating() }, body })),
      onSuccess,
    }),
    correct: useMutation({
      mutationFn: ({ id, version, body }: Change<RefrigerantEntryPatch>) =>
        answer(server.PATCH('/v1/refrigerant-entries/{id}', { params: { path: { id }, header: changing(version) }, body, headers: MERGE })),
      onSuccess,
    }),
    remove: useMutation({
      mutationFn: (id: string) => answer(server.DELETE('/v1/refrigerant-entries/{id}', { params: { path: { id } } })),
      onSuccess,
    }),
    addMachine: useMutation({
      mutationFn: (body: NewMachine) => answer(server.POST('/v1/machines', { params: { header: creating() }, body })),
      onSuccess,
    }),
    changeMachine: useMutation({
      mutationFn: ({ id, version, body }: Change<MachinePatch>) =>
        answer(server.PATCH('/v1/machines/{id}', { params: { path: { id }, header: changing(version) }, body, headers: MERGE })),
      onSuccess,
    }),
    addCylinder: useMutation({
      mutationFn: (body: NewCylinder) => answer(server.POST('/v1/cylinders', { params: { header: creating() }, body })),
      onSuccess,
    }),
    changeCylinder: useMutation({
      mutationFn: ({ id, version, body }: Change<CylinderPatch>) =>
        answer(server.PATCH('/v1/cylinders/{id}', { params: { path: { id }, header: changing(version) }, body, headers: MERGE })),
      onSuccess,
    }),
  };
}
