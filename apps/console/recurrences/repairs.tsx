import type { EpisodeGroup } from '../client/generated/api.ts';
import { repairActionValues, repairIntentValues } from '../client/generated/api.ts';
import { usePlatforms, useShops } from '../client/queries.ts';
import { address, goTo } from '../shell/route.ts';
import { inSentence, words } from '../shell/words.ts';
import { Further, furtherOfRepairs } from './behind.tsx';
import { Episodes } from './episodes.tsx';
import { known, PeriodFilters, periodOf } from './filters.tsx';
import { IntentChoice, ShopChoice } from './group-choices.tsx';
import { INTENT_NAMES } from './intent.tsx';

const PATH = '/recurrences/repairs';

/** The repairs behind any figure: which ones is in the address. */
export function Repairs({ search }: { readonly search: URLSearchParams }) {
  const platforms = usePlatforms();
  const shops = useShops();
  const intent = known(search.get('intent'), repairIntentValues);
  const action = known(search.get('action'), repairActionValues);
  const shopId = search.get('shop') ?? undefined;
  const group: EpisodeGroup = {
    ...periodOf(search),
    ...furtherOfRepairs(search),
    ...(intent ? { intent } : {}),
    ...(action ? { action } : {}),
    ...(shopId ? { shopId } : {}),
  };
  const change = (part: Record<string, string>) => goTo(address(PATH, { ...Object.fromEntries(search), ...part }));
  const named = [
    group.fault ? inSentence(group.fault) : null,
    group.intent ? INTENT_NAMES[group.intent] : null,
    group.action ? words(group.action) : null,
    platforms.data?.find(({ id }) => id === group.platformId)?.name ?? null,
    shops.data?.find(({ id }) => id === shopId)?.name ?? null,
  ].filter((one) => one !== null);
  return (
    <div className="stack">
      <h1>Repairs{named.length === 0 ? '' : `: ${named.join(', ')}`}</h1>
      <PeriodFilters path={PATH} search={search}>
        <IntentChoice value={intent} change={(value) => change({ intent: value })} />
        <ShopChoice value={shopId} change={(value) => change({ shop: value })} />
      </PeriodFilters>
      <Further path={PATH} search={search} of="repairs" />
      <Episodes group={group} name="behind-a-figure" />
    </div>
  );
}
