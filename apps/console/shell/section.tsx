import { type ComponentType, lazy, type ReactNode } from 'react';
import { PageNav } from './page-nav.tsx';
import { type PartOf, PLACES, type SectionName } from './places.ts';
import { Nothing } from './states.tsx';

export interface PageProps {
  /** Of the thing the page is about; empty where it is about no single one. */
  readonly id: string;
  readonly search: URLSearchParams;
}

export type Page<Props> = (props: Props) => ReactNode;

/** A page that comes in when it is opened. */
export function opened<Name extends string, Props extends object>(
  load: () => Promise<Readonly<Record<Name, Page<Props>>>>,
  name: Name,
): Page<Props> {
  const Loaded = lazy(async () => ({ default: (await load())[name] as ComponentType }));
  return (props) => <Loaded {...props} />;
}

export type Pages<Section extends SectionName> = Readonly<Record<PartOf<Section>, Page<PageProps>>>;

interface Props<Section extends SectionName> extends PageProps {
  readonly section: Section;
  readonly part: string;
  readonly pages: Pages<Section>;
  /** Pages of other sections that this user looks for here. */
  readonly also?: readonly { readonly path: string; readonly name: string }[];
  readonly beside?: ReactNode;
}

/** The pages of one user, beside the list of them. */
export function Section<Name extends SectionName>({ section, part, pages, also = [], beside, id, search }: Props<Name>) {
  const { name, parts } = PLACES[section];
  const links = Object.entries<string | null>(parts).flatMap(([own, label]) =>
    label === null ? [] : [{ path: own === '' ? `/${section}` : `/${section}/${own}`, name: label }],
  );
  const own = `/${section}/${part.replace('/:id', '')}`;
  const here = links.some(({ path }) => path === own) ? own : `/${section}`;
  return (
    <div className="with-nav">
      <PageNav label={name} parts={[...links, ...also]} here={here}>
        {beside}
      </PageNav>
      <PageOf section={section} part={part} pages={pages} id={id} search={search} />
    </div>
  );
}

export function PageOf<Name extends SectionName>({ section, part, pages, id, search }: Omit<Props<Name>, 'also' | 'beside'>) {
  const Named: Page<PageProps> | null = Object.hasOwn(pages, part) ? pages[part as PartOf<Name>] : null;
  if (Named) return <Named key={id} id={id} search={search} />;
  return <NotHere href={`#/${section}`} to={PLACES[section].name} />;
}

export function NotHere({ href, to }: { readonly href: string; readonly to: string }) {
  return (
    <div className="stack">
      <h1>Not here</h1>
      <Nothing title="There is no such page.">
        <a href={href}>Go to {to}</a>
      </Nothing>
    </div>
  );
}
