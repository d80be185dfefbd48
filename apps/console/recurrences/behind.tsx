import type { CaseFilter, CasesBehind, EpisodeGroup } from '../client/generated/api.ts';
import { faultCodeValues } from '../client/generated/api.ts';
import { address } from '../shell/route.ts';
import { inSentence } from '../shell/words.ts';
import { known } from './filters.tsx';

/** Where the console lists what is behind a figure: its own page of cases or of repairs, with the filters the service named. */
export function behindAddress({ href }: CasesBehind): string {
  const [path, query] = href.split('?');
  const { platformId, shopId, since, until, ...rest } = Object.fromEntries(new URLSearchParams(query));
  const page = path === '/v1/cases' ? '/recurrences/cases' : '/recurrences/repairs';
  return address(page, { platform: platformId, shop: shopId, since: since?.slice(0, 10), until: until?.slice(0, 10), ...rest });
}

/** Filters of repairs that no field of the page holds: they come with a figure, and are named and can be taken off. */
const OF_REPAIRS = {
  family: 'family of platforms',
  climate: 'climate',
  season: 'season of the repair',
  partNumber: 'part number',
  partBrand: 'brand of the part',
  partLot: 'lot of the part',
  modelYearFrom: 'model year from',
  modelYearTo: 'model year to',
  plant: 'plant',
  sequenceFrom: 'build sequence from, thousands',
  sequenceTo: 'build sequence to, thousands',
  outcome: 'so far',
  endedSince: 'ended from',
  endedUntil: 'ended before',
} as const;
const OF_CASES = { proved: 'proved', found: 'proved or repaired', follows: 'within a year after proved', state: 'cases' } as const;

const COUNTS: readonly string[] = ['modelYearFrom', 'modelYearTo', 'sequenceFrom', 'sequenceTo'];

export function furtherOfRepairs(search: URLSearchParams): Pick<EpisodeGroup, keyof typeof OF_REPAIRS> {
  const given = Object.keys(OF_REPAIRS).flatMap((name) => {
    const value = search.get(name);
    return value === null ? [] : [[name, COUNTS.includes(name) ? Number(value) : value] as const];
  });
  return Object.fromEntries(given);
}

export function furtherOfCases(search: URLSearchParams): Pick<CaseFilter, keyof typeof OF_CASES> {
  const fault = (name: string) => known(search.get(name), faultCodeValues);
  const [proved, found, follows] = [fault('proved'), fault('found'), fault('follows')];
  return {
    ...(proved ? { proved } : {}),
    ...(found ? { found } : {}),
    ...(follows ? { follows } : {}),
    ...(search.get('state') === 'counting' ? { state: 'counting' as CaseFilter['state'] } : {}),
  };
}

/** What the figure asks for beyond the fields, in words, and the way without it. */
export function Further({
  path,
  search,
  of,
}: {
  readonly path: string;
  readonly search: URLSearchParams;
  readonly of: 'repairs' | 'cases';
}) {
  const named: Readonly<Record<string, string>> = of === 'repairs' ? OF_REPAIRS : OF_CASES;
  const given = [...search].filter(([name]) => Object.hasOwn(named, name));
  if (given.length === 0) return null;
  const without = Object.fromEntries([...search].filter(([name]) => !Object.hasOwn(named, name)));
  return (
    <p className="quiet">
      Behind a figure: {given.map(([name, value]) => `${named[name]} ${inSentence(value)}`).join('; ')}.{' '}
      <a href={address(path, without)}>Without that</a>
    </p>
  );
}
