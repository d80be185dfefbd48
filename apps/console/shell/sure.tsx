import { useState } from 'react';

interface Props {
  readonly first: string;
  readonly second: string;
  /** What it is done to, for readers' tools. */
  readonly of: string;
  readonly busy: boolean;
  readonly act: () => void;
}

/** Something that cannot be taken back: the first press asks, the second acts. */
export function Sure({ first, second, of, busy, act }: Props) {
  const [asked, ask] = useState(false);
  return (
    <button
      type="button"
      className="small"
      disabled={busy}
      onBlur={() => ask(false)}
      onClick={() => {
        if (asked) act();
        ask(!asked);
      }}
    >
      {asked ? second : first}
      <span className="unseen"> {of}</span>
    </button>
  );
}
