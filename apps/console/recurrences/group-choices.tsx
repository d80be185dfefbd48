import type { Shop } from '../client/generated/api.ts';
import { repairIntentValues } from '../client/generated/api.ts';
import { useShops } from '../client/queries.ts';
import { Choice } from '../shell/choice.tsx';
import { INTENT_NAMES } from './intent.tsx';

interface Props<T extends string> {
  readonly value: T | undefined;
  readonly change: (value: T | '') => void;
}

/** Which kind of repair. */
export function IntentChoice({ value, change }: Props<(typeof repairIntentValues)[number]>) {
  return (
    <Choice
      label="Repair"
      value={value ?? ''}
      options={repairIntentValues.map((code) => [code, INTENT_NAMES[code]] as const)}
      none="every kind"
      change={change}
    />
  );
}

export const shopChoices = (shops: readonly Shop[] | undefined) => (shops ?? []).map(({ id, name }) => [id, name] as const);

/** Which shop, of those this key may open. */
export function ShopChoice({ value, change }: Props<string>) {
  const shops = useShops();
  return <Choice label="Shop" value={value ?? ''} options={shopChoices(shops.data)} none="every shop" change={change} />;
}
