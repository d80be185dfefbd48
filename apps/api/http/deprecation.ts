/** An operation that will end: since when clients are told, when it goes, and what takes its place. */
export interface Deprecation {
  /** Day (UTC) from which it is deprecated, YYYY-MM-DD. */
  readonly since: string;
  /** Day (UTC) on which it may be gone. */
  readonly sunset: string;
  /** What to use instead, in a sentence. */
  readonly instead: string;
  /** Address of what takes its place, where there is one. */
  readonly successor?: string;
}

/** Months between the first notice and the end, at least (docs/interfaces.md). */
export const NOTICE_MONTHS = 12;

/** @throws Error when clients would have less time than they were promised */
export function requireNotice(id: string, { since, sunset }: Deprecation): void {
  const end = new Date(`${since}T00:00:00Z`);
  end.setUTCMonth(end.getUTCMonth() + NOTICE_MONTHS);
  if (!(Date.parse(`${sunset}T00:00:00Z`) >= end.getTime()))
    throw new Error(`${id} would end less than ${NOTICE_MONTHS} months after its notice`);
}

/** `Deprecation` (RFC 9745: a structured date), `Sunset` (RFC 8594: an HTTP date) and links to the page and the successor (RFC 5829). */
export function deprecationHeaders({ since, sunset, successor }: Deprecation): Readonly<Record<string, string>> {
  return {
    deprecation: `@${Date.parse(`${since}T00:00:00Z`) / 1000}`,
    sunset: new Date(`${sunset}T00:00:00Z`).toUTCString(),
    link: [
      '</docs>; rel="deprecation"; type="text/html"',
      ...(successor === undefined ? [] : [`<${successor}>; rel="successor-version"`]),
    ].join(', '),
  };
}
