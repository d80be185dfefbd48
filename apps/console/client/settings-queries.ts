import { useInfiniteQuery, useMutation, useQuery, useQueryClient } from '@tanstack/react-query';
import { answer, newRequestKey, server } from './client.ts';
import type {
  JudgedCaseFilter,
  MemberPatch,
  NewDayMean,
  NewMember,
  NewOutcomeRules,
  NewPlatform,
  NewShop,
  PlatformPatch,
  QualityQuestion,
  ShopPatch,
} from './generated/api.ts';

const creating = () => ({ 'Idempotency-Key': newRequestKey() });
/** A change carries the version that was read: somebody else's change in between is refused, not overwritten. */
const changing = (version: number) => ({ 'If-Match': `"${version}"` });
const MERGE = { 'content-type': 'application/merge-patch+json' };

export function useShopActions() {
  const client = useQueryClient();
  const onSuccess = () => client.invalidateQueries({ queryKey: ['shops'] });
  return {
    add: useMutation({
      mutationFn: (body: NewShop) => answer(server.POST('/v1/shops', { params: { header: creating() }, body })),
      onSuccess,
    }),
    change: useMutation({
      mutationFn: ({ id, version, body }: { id: string; version: number; body: ShopPatch }) =>
        answer(server.PATCH('/v1/shops/{id}', { params: { path: { id }, header: changing(version) }, body, headers: MERGE })),
      onSuccess,
    }),
  };
}

export function usePlatformActions() {
  const client = useQueryClient();
  const onSuccess = () => client.invalidateQueries({ queryKey: ['platforms'] });
  return {
    add: useMutation({
      mutationFn: (body: NewPlatform) => answer(server.POST('/v1/platforms', { params: { header: creating() }, body })),
      onSuccess,
    }),
    change: useMutation({
      mutationFn: ({ id, version, body }: { id: string; version: number; body: PlatformPatch }) =>
        answer(server.PATCH('/v1/platforms/{id}', { params: { path: { id }, header: changing(version) }, body, headers: MERGE })),
      onSuccess,
    }),
  };
}

export function useExpectation(platformId: string) {
  return useQuery({
    queryKey: ['expectation', platformId],
    queryFn: () => answer(server.GET('/v1/platforms/{id}/expectation', { params: { path: { id: platformId } } })),
  });
}

export function useLearnExpectation(platformId: string) {
  const client = useQueryClient();
  return useMutation({
    mutationFn: () => answer(server.POST('/v1/platforms/{id}/expectation', { params: { path: { id: platformId }, header: creating() } })),
    onSuccess: (learned) => client.setQueryData(['expectation', platformId], learned),
  });
}

export function useWeather(shopId: string) {
  return useQuery({
    queryKey: ['weather', shopId],
    queryFn: () => answer(server.GET('/v1/shops/{id}/weather', { params: { path: { id: shopId } } })),
  });
}

/** Days a request takes at most. */
const DAYS_AT_ONCE = 2_000;

/** Takes in observed days, in as many requests as they need; sent again they change nothing. */
export function usePutWeather(shopId: string) {
  const client = useQueryClient();
  return useMutation({
    mutationFn: async (days: readonly NewDayMean[]) => {
      for (let from = 0; from < days.length; from += DAYS_AT_ONCE) {
        const body = { days: days.slice(from, from + DAYS_AT_ONCE) };
        await answer(server.PUT('/v1/shops/{id}/weather', { params: { path: { id: shopId } }, body }));
      }
    },
    onSettled: () => client.invalidateQueries({ queryKey: ['weather', shopId] }),
  });
}

export function useOutcomeRules() {
  return useQuery({ queryKey: ['outcome-rules'], queryFn: () => answer(server.GET('/v1/outcomes/rules')) });
}

export function useSetOutcomeRules() {
  const client = useQueryClient();
  return useMutation({
    mutationFn: (body: NewOutcomeRules) => answer(server.PUT('/v1/outcomes/rules', { body })),
    // Every figure is made anew by the worker; nothing that was read before stands.
    onSuccess: () => client.invalidateQueries(),
  });
}

export function useMembers() {
  return useInfiniteQuery({
    queryKey: ['members'],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) => answer(server.GET('/v1/members', { params: { query: { first: 100, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
  });
}

export function useMemberActions() {
  const client = useQueryClient();
  const onSuccess = () => client.invalidateQueries({ queryKey: ['members'] });
  return {
    add: useMutation({
      mutationFn: (body: NewMember) => answer(server.POST('/v1/members', { params: { header: creating() }, body })),
      onSuccess,
    }),
    change: useMutation({
      mutationFn: ({ id, version, body }: { id: string; version: number; body: MemberPatch }) =>
        answer(server.PATCH('/v1/members/{id}', { params: { path: { id }, header: changing(version) }, body, headers: MERGE })),
      onSuccess,
    }),
    setPin: useMutation({
      mutationFn: ({ id, pin }: { id: string; pin: string }) =>
        answer(server.POST('/v1/members/{id}/pin', { params: { path: { id } }, body: { pin } })),
      onSuccess,
    }),
    takePin: useMutation({
      mutationFn: (id: string) => answer(server.DELETE('/v1/members/{id}/pin', { params: { path: { id } } })),
      onSuccess,
    }),
  };
}

/** Everything the organisation has, as a file; the key travels in a header, so the page fetches it and hands it on. */
export const wholeOrganisation = (passphrase: string) =>
  answer(server.GET('/v1/export', { headers: passphrase === '' ? {} : { 'export-passphrase': passphrase }, parseAs: 'blob' }));

export const everyCase = () => answer(server.GET('/v1/export/cases.csv', { parseAs: 'blob' }));

export function useForgetVehicle() {
  return useMutation({
    mutationFn: (id: string) => answer(server.DELETE('/v1/vehicles/{id}', { params: { path: { id } } })),
  });
}

export function useVehicleLookup() {
  return useMutation({
    mutationFn: (vin: string) => answer(server.POST('/v1/vehicles/lookup', { body: { vin } })),
  });
}

export function useEngineQuality(question: QualityQuestion) {
  return useQuery({
    queryKey: ['engine-quality', question],
    queryFn: () => answer(server.GET('/v1/engine/quality', { params: { query: question } })),
    placeholderData: (before) => before,
  });
}

export function useJudgedCases(filter: JudgedCaseFilter) {
  return useInfiniteQuery({
    queryKey: ['judged-cases', filter],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) =>
      answer(server.GET('/v1/engine/quality/cases', { params: { query: { ...filter, first: 50, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
  });
}

/** The latest re-diagnosis of history; asked again every few seconds while it is under way. */
export function useRediagnoses() {
  return useQuery({
    queryKey: ['rediagnoses'],
    queryFn: () => answer(server.GET('/v1/rediagnoses', { params: { query: { first: 1 } } })),
    refetchInterval: ({ state }) => (state.data?.data.some(({ state: now }) => now !== 'done' && now !== 'failed') ? 4_000 : false),
  });
}

export function useRediagnose() {
  const client = useQueryClient();
  return useMutation({
    mutationFn: () => answer(server.POST('/v1/rediagnoses', { params: { header: creating() }, body: {} })),
    onSuccess: () => client.invalidateQueries({ queryKey: ['rediagnoses'] }),
  });
}
