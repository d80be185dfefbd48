import { useMutation, useQueryClient } from '@tanstack/react-query';
import type { ReactNode } from 'react';
import { newRequestKey, Refusal } from '../client/client.ts';
import { Refused } from '../shell/states.tsx';
import { useKept } from './kept.ts';
import { foundNoServer, isStillToSend, useSendAgain } from './sending.ts';

/**
 * A record being written: what is typed is kept through a reload, and sent again by itself after a lost connection. The same request key goes
 * with it until it is stored, through a reload too, so that a lost answer doubles nothing.
 */
export function useRecord<T extends object>(slot: string, empty: T, send: (typed: T, key: string) => Promise<unknown>) {
  const client = useQueryClient();
  // Only what was changed is kept: what a form starts with follows the case.
  const [changed, keep] = useKept<Partial<T>>(`record.${slot}`, {});
  const typed: T = { ...empty, ...changed };
  const [key, keepKey] = useKept(`record-key.${slot}`, newRequestKey());
  const [isWaiting, wait] = useKept(`record-waiting.${slot}`, false);
  const record = useMutation({
    mutationFn: () => {
      wait(true);
      return send(typed, key);
    },
    onSuccess: () => {
      wait(false);
      keepKey(newRequestKey());
      keep({});
      return client.invalidateQueries();
    },
    // A refused body may be mended and sent again, which is another request.
    onError: (error) => {
      if (isStillToSend(error)) return;
      wait(false);
      keepKey(newRequestKey());
      // Somebody else changed it in between: what they wrote is shown beside what was refused.
      if (error instanceof Refusal && error.status === 412) client.invalidateQueries({ queryKey: ['case'] });
    },
  });
  // Also what was under way when the page was left, or when its person was signed out.
  useSendAgain(isWaiting && (record.isIdle || foundNoServer(record.error)), () => record.mutate());
  return { typed, change: (parts: Partial<T>) => keep((before) => ({ ...before, ...parts })), record };
}

interface RecordFormProps {
  readonly title: string;
  readonly button: string;
  readonly ready: boolean;
  readonly record: ReturnType<typeof useRecord>['record'];
  readonly children: ReactNode;
  readonly beneath?: ReactNode;
  /** Another button in the row of the first. */
  readonly beside?: ReactNode;
}

export function RecordForm({ title, button, ready, record, children, beneath, beside }: RecordFormProps) {
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
          {beside}
          {record.isSuccess ? <span role="status">Recorded.</span> : null}
        </div>
      </form>
    </details>
  );
}
