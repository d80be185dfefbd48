import { useState } from 'react';

interface Props {
  readonly title: string;
  readonly secret: string;
  readonly done: () => void;
}

/** A secret that is shown this once: it stays until the reader says that it is kept. */
export function Secret({ title, secret, done }: Props) {
  const [copied, setCopied] = useState(false);
  return (
    <div className="state state-warning" role="status">
      <strong>{title}</strong>
      <p>It is shown this once and kept nowhere in the clear. Copy it to where it is used before you go on.</p>
      <pre>
        <code>{secret}</code>
      </pre>
      <div className="row">
        <button
          type="button"
          className="primary"
          onClick={async () => {
            await navigator.clipboard.writeText(secret);
            setCopied(true);
          }}
        >
          Copy it
        </button>
        <button type="button" onClick={done}>
          I have kept it
        </button>
        {copied ? <span role="status">Copied.</span> : null}
      </div>
    </div>
  );
}
