import type { ReactNode } from 'react';

interface Props {
  readonly label: string;
  readonly parts: readonly { readonly path: string; readonly name: string }[];
  readonly here: string;
  readonly children?: ReactNode;
}

/** The pages of one user, beside the page. */
export function PageNav({ label, parts, here, children }: Props) {
  return (
    <div className="page-nav no-print">
      <nav aria-label={label}>
        {parts.map(({ path, name }) => (
          <a key={path} href={`#${path}`} aria-current={path === here ? 'page' : undefined}>
            {name}
          </a>
        ))}
      </nav>
      {children}
    </div>
  );
}
