import type { ReactNode } from 'react';
import { Refused, Waiting } from './states.tsx';

interface Query<T> {
  readonly data: T | undefined;
  readonly error: unknown;
  refetch(): unknown;
}

interface Props<T> {
  readonly query: Query<T>;
  readonly what: string;
  readonly children: (data: T) => ReactNode;
}

/** What a question brought: the answer, a refusal with the way on, or word that it is being fetched. */
export function Answered<T>({ query, what, children }: Props<T>) {
  if (query.error) return <Refused error={query.error} what={what} again={() => query.refetch()} />;
  if (query.data === undefined) return <Waiting what={what} />;
  return children(query.data);
}
