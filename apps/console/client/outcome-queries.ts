import { useInfiniteQuery, useMutation, useQuery, useQueryClient } from '@tanstack/react-query';
import { answer, newRequestKey, server } from './client.ts';
import type {
  CaseFilter,
  GroupedQuestion,
  LedgerQuestion,
  NewPolicy,
  PatternQuestion,
  PeriodQuestion,
  PolicyFilter,
  RefrigerantQuestion,
  ShopReviewQuestion,
  WatchQuestion,
} from './generated/api.ts';

/** While another question of the same kind is on its way, the answer before stays to be read. */
const keep = { placeholderData: <T>(before: T | undefined) => before };

export function usePatterns(question: PatternQuestion, enabled = true) {
  return useQuery({
    queryKey: ['patterns', question],
    queryFn: () => answer(server.GET('/v1/outcomes/patterns', { params: { query: question } })),
    enabled,
    ...keep,
  });
}

export function useWatches(question: WatchQuestion, enabled = true) {
  return useQuery({
    queryKey: ['watches', question],
    queryFn: () => answer(server.GET('/v1/outcomes/watches', { params: { query: question } })),
    enabled,
    ...keep,
  });
}

export function useShopReview(question: ShopReviewQuestion, enabled = true) {
  return useQuery({
    queryKey: ['shop-review', question],
    queryFn: () => answer(server.GET('/v1/outcomes/shops', { params: { query: question } })),
    enabled,
    ...keep,
  });
}

export function useRecordQuality(question: PeriodQuestion) {
  return useQuery({
    queryKey: ['record-quality', question],
    queryFn: () => answer(server.GET('/v1/outcomes/record-quality', { params: { query: question } })),
    ...keep,
  });
}

export function useChargeAccuracy(question: PeriodQuestion) {
  return useQuery({
    queryKey: ['charge-accuracy', question],
    queryFn: () => answer(server.GET('/v1/outcomes/charge-accuracy', { params: { query: question } })),
    ...keep,
  });
}

export function useGroupedReturns(question: Omit<GroupedQuestion, 'by'> & { by: string }) {
  return useQuery({
    queryKey: ['grouped-returns', question],
    queryFn: () => answer(server.GET('/v1/outcomes/grouped-returns', { params: { query: question } })),
    ...keep,
  });
}

export function useReturnCosts(question: PeriodQuestion) {
  return useQuery({
    queryKey: ['return-costs', question],
    queryFn: () => answer(server.GET('/v1/outcomes/return-costs', { params: { query: question } })),
    ...keep,
  });
}

export function useRefrigerant(question: RefrigerantQuestion) {
  return useQuery({
    queryKey: ['refrigerant', question],
    queryFn: () => answer(server.GET('/v1/outcomes/refrigerant', { params: { query: question } })),
    ...keep,
  });
}

export function useRefrigerantLedger(question: LedgerQuestion) {
  return useQuery({
    queryKey: ['refrigerant-ledger', question],
    queryFn: () => answer(server.GET('/v1/outcomes/refrigerant-ledger', { params: { query: question } })),
    ...keep,
  });
}

export function usePolicies(filter: PolicyFilter) {
  return useQuery({
    queryKey: ['policies', filter],
    queryFn: () => answer(server.GET('/v1/policies', { params: { query: filter } })),
  });
}

export function usePolicyReport(id: string) {
  return useQuery({
    queryKey: ['policy-report', id],
    queryFn: () => answer(server.GET('/v1/policies/{id}/report', { params: { path: { id } } })),
  });
}

export function useSetPolicy() {
  const client = useQueryClient();
  return useMutation({
    mutationFn: (body: NewPolicy) =>
      answer(server.POST('/v1/policies', { params: { header: { 'Idempotency-Key': newRequestKey() } }, body })),
    onSuccess: () => client.invalidateQueries({ queryKey: ['policies'] }),
  });
}

export function useEndPolicy() {
  const client = useQueryClient();
  return useMutation({
    mutationFn: (id: string) => answer(server.DELETE('/v1/policies/{id}', { params: { path: { id } } })),
    onSuccess: () => client.invalidateQueries({ queryKey: ['policies'] }),
  });
}

/** Asks the worker to weigh patterns or look at the streams again; the banner shows how far it is. */
export function useScoring(subject: 'patterns' | 'watches') {
  const client = useQueryClient();
  return useMutation({
    mutationFn: () => {
      const params = { header: { 'Idempotency-Key': newRequestKey() } };
      return answer(
        subject === 'patterns'
          ? server.POST('/v1/outcomes/patterns/scoring', { params })
          : server.POST('/v1/outcomes/watches/scoring', { params }),
      );
    },
    onSuccess: () => client.invalidateQueries({ queryKey: ['tasks'] }),
  });
}

export function useCases(filter: CaseFilter) {
  return useInfiniteQuery({
    queryKey: ['cases', filter],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) => answer(server.GET('/v1/cases', { params: { query: { ...filter, first: 50, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
  });
}
