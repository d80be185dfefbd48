import { MutationCache, QueryCache, QueryClient, useInfiniteQuery, useQuery } from '@tanstack/react-query';
import { answer, Refusal, server } from './client.ts';
import type { BoardQuestion, ComparisonQuestion, EpisodeGroup, Platform, RecurrenceLine, Shop } from './generated/api.ts';
import { listenToKey, useAccess } from './key.ts';

/** Answers are kept by key: what one key was shown is never shown to another. */
export function newQueryClient(): QueryClient {
  // Half an hour of nothing signs out at a shared device: then its names are shown again.
  const lookWhoIsIn = (error: Error) => {
    if (error instanceof Refusal && error.code === 'access/nobody_signed_in') client.invalidateQueries({ queryKey: ['session'] });
  };
  const client: QueryClient = new QueryClient({
    queryCache: new QueryCache({ onError: lookWhoIsIn }),
    mutationCache: new MutationCache({ onError: lookWhoIsIn }),
    defaultOptions: {
      // Asked at once even when the browser believes it is offline: the server may stand in the same room.
      mutations: { networkMode: 'always' },
      queries: {
        networkMode: 'always',
        staleTime: 30_000,
        refetchOnWindowFocus: false,
        retry: (count, error) => error instanceof Refusal && (error.status === 0 || error.status === 503) && count < 2,
      },
    },
  });
  listenToKey(() => client.clear());
  return client;
}

const get = {
  me: () => answer(server.GET('/v1/me')),
  tasks: () => answer(server.GET('/v1/tasks')),
};

/** Whose session the cookie of a shared device holds; asked again now and then, because half an hour of nothing signs out. */
export function useSession() {
  const access = useAccess();
  return useQuery({
    queryKey: ['session'],
    enabled: access === 'shared-device',
    refetchInterval: 60_000,
    queryFn: () => answer(server.GET('/v1/session')),
  });
}

export function useMe() {
  const access = useAccess();
  const person = useSession().data?.person?.id ?? null;
  return useQuery({ queryKey: ['me', access, person], queryFn: get.me, enabled: access === 'key' || person !== null });
}

/** Long work of the worker; asked again every few seconds while some is under way. */
export function useTasks(enabled: boolean) {
  return useQuery({
    queryKey: ['tasks'],
    queryFn: get.tasks,
    enabled,
    refetchInterval: ({ state }) => (state.data?.data.some(({ state: now }) => now === 'running' || now === 'waiting') ? 4_000 : false),
  });
}

export async function everyPage<T>(page: (after: string | undefined) => Promise<{ data: T[]; next: string | null }>): Promise<T[]> {
  const all: T[] = [];
  for (let after: string | undefined; ; ) {
    const { data, next } = await page(after);
    all.push(...data);
    if (next === null || all.length >= 2_000) return all;
    after = next;
  }
}

export function usePlatforms() {
  return useQuery({
    queryKey: ['platforms'],
    staleTime: 300_000,
    queryFn: () => everyPage<Platform>((after) => answer(server.GET('/v1/platforms', { params: { query: { first: 100, after } } }))),
  });
}

export function useShops() {
  return useQuery({
    queryKey: ['shops'],
    staleTime: 300_000,
    queryFn: () => everyPage<Shop>((after) => answer(server.GET('/v1/shops', { params: { query: { first: 100, after } } }))),
  });
}

export function useBoard(question: BoardQuestion) {
  return useQuery({
    queryKey: ['recurrences', question],
    queryFn: () => answer(server.GET('/v1/outcomes/recurrences', { params: { query: question } })),
    placeholderData: (before) => before,
  });
}

/** Lines of the first page, which is what the first window shows, and of those after it. */
const FIRST_LINES = 100;
const MORE_LINES = 1_000;
const boardPage = (question: BoardQuestion, after: string | undefined) =>
  answer(
    server.GET('/v1/outcomes/recurrences', {
      params: { query: { ...question, first: after === undefined ? FIRST_LINES : MORE_LINES, after } },
    }),
  );

/** The board page by page: however many lines it has, the first ones are there at once. */
export function useBoardPages(question: BoardQuestion) {
  return useInfiniteQuery({
    queryKey: ['recurrences', 'pages', question],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) => boardPage(question, pageParam),
    getNextPageParam: ({ next }) => next ?? undefined,
    placeholderData: (before) => before,
  });
}

/** Every line of a board, to take along. */
export async function everyLine(question: BoardQuestion): Promise<RecurrenceLine[]> {
  const lines: RecurrenceLine[] = [];
  for (let after: string | undefined; ; ) {
    const page = await boardPage(question, after);
    lines.push(...page.lines);
    if (page.next === null) return lines;
    after = page.next;
  }
}

export function useComparison(question: ComparisonQuestion) {
  return useQuery({
    queryKey: ['comparison', question],
    queryFn: () => answer(server.POST('/v1/outcomes/comparisons', { body: question })),
  });
}

export function useEpisodes(group: EpisodeGroup) {
  return useInfiniteQuery({
    queryKey: ['episodes', group],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) =>
      answer(server.GET('/v1/outcomes/episodes', { params: { query: { ...group, first: 20, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
  });
}

export function useCase(id: string) {
  return useQuery({
    queryKey: ['case', id],
    queryFn: () => answer(server.GET('/v1/cases/{id}', { params: { path: { id } } })),
  });
}

export function useDiagnoses(caseId: string) {
  return useQuery({
    queryKey: ['diagnoses', caseId],
    queryFn: () => answer(server.GET('/v1/cases/{id}/diagnoses', { params: { path: { id: caseId } } })),
  });
}

export function useSimilarToCase(caseId: string) {
  return useQuery({
    queryKey: ['similar', caseId],
    queryFn: () => answer(server.GET('/v1/cases/{id}/similar', { params: { path: { id: caseId }, query: { limit: 8 } } })),
  });
}

export function useHistory(vehicleId: string | null) {
  return useQuery({
    queryKey: ['history', vehicleId],
    enabled: vehicleId !== null,
    queryFn: () => answer(server.GET('/v1/vehicles/{id}/history', { params: { path: { id: vehicleId! } } })),
  });
}

export function useRecentCases() {
  return useInfiniteQuery({
    queryKey: ['cases'],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) => answer(server.GET('/v1/cases', { params: { query: { first: 15, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
  });
}

export function useAudit(enabled: boolean) {
  return useInfiniteQuery({
    queryKey: ['audit'],
    enabled,
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) => answer(server.GET('/v1/audit', { params: { query: { first: 15, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
  });
}
