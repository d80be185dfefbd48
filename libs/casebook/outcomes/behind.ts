import type { CaseFilter, CasesBehind, EpisodeGroup } from '#libs/contracts/index.js';

/** The repairs behind a figure, as the list of episodes gives them: those of shops the caller may not open are counted in figures, and not listed. */
export function repairsBehind(group: EpisodeGroup): CasesBehind {
  return behind('/v1/outcomes/episodes', 'episodes', 'group', group);
}

/** The cases behind a figure, as the list of cases gives them. */
export function casesBehind(filter: CaseFilter): CasesBehind {
  return behind('/v1/cases', 'cases', 'filter', filter);
}

/** Fields whose values are words of an enumeration, which GraphQL writes bare and with underscores. */
const WORDS = new Set(['fault', 'action', 'intent', 'climate', 'season', 'outcome', 'status', 'proved', 'found', 'follows', 'state']);

function behind(path: string, field: string, argument: string, filter: object): CasesBehind {
  const given = Object.entries(filter).filter(([, value]) => value !== undefined && value !== null);
  const query = new URLSearchParams(given.map(([name, value]): [string, string] => [name, String(value)])).toString();
  const fields = given.map(([name, value]) => `${name}: ${WORDS.has(name) ? String(value).replaceAll('-', '_') : JSON.stringify(value)}`);
  return {
    href: query === '' ? path : `${path}?${query}`,
    graphql: fields.length === 0 ? field : `${field}(${argument}: { ${fields.join(', ')} })`,
  };
}
