import { useInfiniteQuery, useMutation, useQuery, useQueryClient } from '@tanstack/react-query';
import { useEffect, useRef } from 'react';
import { answer, newRequestKey, server } from './client.ts';
import type { ImportRun, NewKey, NewSavedMapping, NewWebhook, RowCorrection, RowOutcome } from './generated/api.ts';

const creating = () => ({ 'Idempotency-Key': newRequestKey() });
const isUnderWay = ({ state }: ImportRun) => state === 'receiving' || state === 'waiting' || state === 'running';

export function useImports() {
  return useInfiniteQuery({
    queryKey: ['imports'],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) => answer(server.GET('/v1/imports', { params: { query: { first: 30, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
    refetchInterval: ({ state }) => (state.data?.pages.some(({ data }) => data.some(isUnderWay)) ? 3_000 : false),
  });
}

/** After a broken stream, ms. */
const RETRY_MS = 3_000;

/** One import; while it is under way the server tells how far it is. */
export function useImport(id: string) {
  const client = useQueryClient();
  const query = useQuery({
    queryKey: ['import', id],
    queryFn: () => answer(server.GET('/v1/imports/{id}', { params: { path: { id } } })),
  });
  const underWay = query.data !== undefined && isUnderWay(query.data);
  const open = useRef<AbortController | null>(null);
  useEffect(() => {
    // A stream that is open ends by itself when the import does; only leaving the page cuts it.
    if (!underWay || open.current !== null) return;
    const cut = new AbortController();
    open.current = cut;
    listenToImport(id, cut.signal, (run) => client.setQueryData(['import', id], run))
      .catch(() => {
        // The stream broke: what is known stays, and is asked for again in a while.
        if (!cut.signal.aborted) return new Promise((done) => setTimeout(done, RETRY_MS));
      })
      .finally(() => {
        open.current = null;
        if (cut.signal.aborted) return;
        void client.invalidateQueries({ queryKey: ['import', id] });
        void client.invalidateQueries({ queryKey: ['import-rows', id] });
      });
  }, [id, underWay, client]);
  useEffect(() => () => open.current?.abort(), []);
  return query;
}

/** Chromium calls a stream failed that a reader read to its end; a copy of it read as text ends it well. */
const readTwice = async (request: Request) => {
  const response = await fetch(request);
  response
    .clone()
    .text()
    .catch(() => undefined);
  return response;
};

/** Server-sent events of an import: the data of each is an ImportRun. Ends when the server ends the stream, or when it is cut. */
async function listenToImport(id: string, signal: AbortSignal, tell: (run: ImportRun) => void): Promise<void> {
  const options = { params: { path: { id } }, parseAs: 'stream', signal, fetch: readTwice } as const;
  const stream = await answer(server.GET('/v1/imports/{id}/events', options));
  if (stream === null) return;
  const reader = stream.getReader();
  const decoder = new TextDecoder();
  let rest = '';
  for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    const events = (rest + decoder.decode(value, { stream: true })).split('\n\n');
    rest = events.pop() ?? '';
    for (const event of events) {
      const data = event
        .split('\n')
        .filter((line) => line.startsWith('data:'))
        .map((line) => line.slice(5).trimStart())
        .join('\n');
      if (data !== '') tell(JSON.parse(data));
    }
  }
}

export function useImportRows(id: string, outcome: RowOutcome | undefined) {
  return useInfiniteQuery({
    queryKey: ['import-rows', id, outcome],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) =>
      answer(server.GET('/v1/imports/{id}/rows', { params: { path: { id }, query: { outcome, first: 100, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
  });
}

export interface Upload {
  readonly file: File;
  readonly mapping: string;
  readonly shopCode: string;
  readonly system: string;
  readonly dryRun: boolean;
  readonly backfill: boolean;
}

/** What a file is, by its name. */
function typeOf(name: string): string {
  const plain = name.toLowerCase().replace(/\.gz$/, '');
  if (plain.endsWith('.csv')) return 'text/csv';
  if (plain.endsWith('.tsv')) return 'text/tab-separated-values';
  return 'application/x-ndjson';
}

export function useUpload() {
  const client = useQueryClient();
  return useMutation({
    mutationFn: ({ file, mapping, shopCode, system, dryRun, backfill }: Upload) =>
      answer(
        server.POST('/v1/imports', {
          params: {
            header: creating(),
            query: {
              ...(mapping === '' ? {} : { mapping }),
              ...(shopCode === '' ? {} : { shopCode }),
              ...(system === '' ? {} : { system }),
              ...(dryRun ? { dryRun: 'true' as const } : {}),
              ...(backfill ? { backfill: 'true' as const } : {}),
            },
          },
          headers: { 'content-type': typeOf(file.name), ...(/\.gz$/i.test(file.name) ? { 'content-encoding': 'gzip' } : {}) },
          // The file itself is the body: streamed by the browser, never read into the page.
          body: file.name,
          bodySerializer: () => file,
        }),
      ),
    onSuccess: () => client.invalidateQueries({ queryKey: ['imports'] }),
  });
}

export function useCorrection(id: string) {
  const client = useQueryClient();
  return useMutation({
    mutationFn: ({ line, correction }: { line: number; correction: RowCorrection }) =>
      answer(
        server.POST('/v1/imports/{id}/rows/{line}/correction', {
          params: { path: { id, line }, header: creating() },
          body: correction,
        }),
      ),
    onSuccess: async () => {
      await client.invalidateQueries({ queryKey: ['import-rows', id] });
      await client.invalidateQueries({ queryKey: ['import', id] });
    },
  });
}

export function useReplay(id: string) {
  const client = useQueryClient();
  return useMutation({
    mutationFn: () => answer(server.POST('/v1/imports/{id}/replay', { params: { path: { id }, header: creating() } })),
    onSuccess: (run) => client.setQueryData(['import', id], run),
  });
}

/** Rejected rows as a file; the key travels in a header, so the page fetches it and hands it on. */
export const rejectedRows = (id: string, format: 'ndjson' | 'csv') =>
  answer(server.GET('/v1/imports/{id}/errors', { params: { path: { id }, query: { format } }, parseAs: 'blob' }));

export function useMappings() {
  return useQuery({ queryKey: ['mappings'], queryFn: () => answer(server.GET('/v1/imports/mappings')) });
}

export function useSaveMapping() {
  const client = useQueryClient();
  return useMutation({
    mutationFn: (body: NewSavedMapping) => answer(server.POST('/v1/imports/mappings', { params: { header: creating() }, body })),
    onSuccess: () => client.invalidateQueries({ queryKey: ['mappings'] }),
  });
}

export function useWebhooks() {
  return useQuery({ queryKey: ['webhooks'], queryFn: () => answer(server.GET('/v1/webhooks')) });
}

/** What is done to webhooks; each ends with a fresh list. */
export function useWebhookActions() {
  const client = useQueryClient();
  const onSuccess = () => client.invalidateQueries({ queryKey: ['webhooks'] });
  const path = (id: string) => ({ path: { id } });
  return {
    create: useMutation({ mutationFn: (body: NewWebhook) => answer(server.POST('/v1/webhooks', { body })), onSuccess }),
    remove: useMutation({
      mutationFn: (id: string) => answer(server.DELETE('/v1/webhooks/{id}', { params: path(id) })),
      onSuccess,
    }),
    enable: useMutation({
      mutationFn: (id: string) => answer(server.POST('/v1/webhooks/{id}/enabling', { params: { ...path(id), header: creating() } })),
      onSuccess,
    }),
    rotate: useMutation({
      mutationFn: (id: string) => answer(server.POST('/v1/webhooks/{id}/rotation', { params: path(id) })),
      onSuccess,
    }),
  };
}

export function useDeliveries(id: string) {
  return useInfiniteQuery({
    queryKey: ['deliveries', id],
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) =>
      answer(server.GET('/v1/webhooks/{id}/deliveries', { params: { path: { id }, query: { first: 50, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
    refetchInterval: ({ state }) => (state.data?.pages.some(({ data }) => data.some((one) => one.state === 'waiting')) ? 5_000 : false),
  });
}

export function useReplayDelivery(id: string) {
  const client = useQueryClient();
  return useMutation({
    mutationFn: (deliveryId: string) =>
      answer(server.POST('/v1/webhooks/{id}/deliveries/{deliveryId}/replay', { params: { path: { id, deliveryId }, header: creating() } })),
    onSuccess: () => client.invalidateQueries({ queryKey: ['deliveries', id] }),
  });
}

export function useKeys(enabled: boolean) {
  return useInfiniteQuery({
    queryKey: ['keys'],
    enabled,
    initialPageParam: undefined as string | undefined,
    queryFn: ({ pageParam }) => answer(server.GET('/v1/keys', { params: { query: { first: 50, after: pageParam } } })),
    getNextPageParam: ({ next }) => next ?? undefined,
  });
}

/** Asked again now and then: requests are counted while the page stands open. */
export function useKeyUsage() {
  return useQuery({
    queryKey: ['key-usage'],
    queryFn: () => answer(server.GET('/v1/keys/usage')),
    refetchInterval: 30_000,
  });
}

export function useKeyActions() {
  const client = useQueryClient();
  const onSuccess = () => client.invalidateQueries({ queryKey: ['keys'] });
  return {
    issue: useMutation({ mutationFn: (body: NewKey) => answer(server.POST('/v1/keys', { body })), onSuccess }),
    rotate: useMutation({
      mutationFn: ({ id, overlapHours }: { id: string; overlapHours: number }) =>
        answer(server.POST('/v1/keys/{id}/rotation', { params: { path: { id } }, body: { overlapHours } })),
      onSuccess,
    }),
    revoke: useMutation({
      mutationFn: (id: string) => answer(server.POST('/v1/keys/{id}/revocation', { params: { path: { id } } })),
      onSuccess,
    }),
  };
}
