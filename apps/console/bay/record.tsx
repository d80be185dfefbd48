import { useMutation, useQueryClient } from '@tanstack/react-query';
import type { ReactNode } from 'react';
import { newRequestKey } from '../client/client.ts';
import { Refused } from '../shell/states.tsx';
import { useKept } from './kept.ts';
import { foundNoServer, useSendAgain } from './sending.ts';

/**
 * A record being written: what is typed is kept through a reload, and sent again by itself after a lost connection. The same request key goes
 * with it until it is stored, through a reload too, so that a lost answer doubles nothing.
 */
export function useRecord<T extends object>(slot: string, empty: T, send: (typed: T, key: string) => Promise<unknown>) {
  const client = useQueryClient();
  // Only what was changed is kept: what a form starts with follows the case.
  const [changed, keep] = useKept<Partial<T>>(`coolback.record.${slot}`, {});
  const typed: T = { ...empty, ...changed };
  const [key, keepKey] = useKept(`coolback.record-key.${slot}`, newRequestKey());
  const record = useMutation({
    mutationFn: () => send(typed, key),
    onSuccess: () => {
      keepKey(newRequestKey());
      keep({});
      return client.invalidateQueries();
    },
    // A refused body may be mended and sent again, which is another request.
    onError: (error) => {
      if (!foundNoServer(error)) keepKey(newRequestKey());
    },
  });
  useSendAgain(foundNoServer(record.error), () => record.mutate());
  return { typed, change: (parts: Partial<T>) => keep((before) => ({ ...before, ...parts })), record };
}

interface RecordFormProps {
  readonly title: string;
  readonly button: string;
  readonly ready: boolean;
  readonly record: ReturnType<typeof useRecord>['record'];
  readonly children: ReactNode;
  readonly beneath?: ReactNode;
}

export function RecordForm({ title, button, ready, record, children, beneath }: RecordFormProps) {
  return (
    <details className="sheet no-print">
      <summary>{title}</summary>
      <form
        className="stack"
        onSubmit={(event) => {
          event.preventDefault();
          if (ready) record.mutate();
        }}
      >
        {children}
        {beneath}
        {record.error ? <Refused error={record.error} what="this record" /> : null}
        <div className="row">
          <button type="submit" className="primary" disabled={!ready || record.isPending}>
            {button}
          </button>
          {record.isSuccess ? <span role="status">Recorded.</span> : null}
        </div>
      </form>
    </details>
  );
}
