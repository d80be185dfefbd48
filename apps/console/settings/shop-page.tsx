import { type FormEvent, useId, useState } from 'react';
import type { NewShop, Shop } from '../client/generated/api.ts';
import { useMe, useShops } from '../client/queries.ts';
import { useShopActions } from '../client/settings-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { goTo } from '../shell/route.ts';
import { Nothing, Refused } from '../shell/states.tsx';
import { Climate, MONTHS } from './climate.tsx';
import { Weather } from './weather.tsx';

/** One shop with its climate; `new` for one to be added. */
export function ShopPage({ id }: { readonly id: string }) {
  const shops = useShops();
  const me = useMe();
  const mayWrite = me.data?.permissions.includes('shops:write') ?? false;
  return (
    <div className="stack">
      <p className="no-print">
        <a href="#/settings">All shops</a>
      </p>
      <Answered query={shops} what="the shop">
        {(all) => {
          const shop = all.find((one) => one.id === id);
          if (id !== 'new' && !shop)
            return (
              <>
                <h1>Not here</h1>
                <Nothing title="There is no such shop for this key.">
                  <a href="#/settings">Go to the shops</a>
                </Nothing>
              </>
            );
          return (
            <>
              <h1>{shop ? shop.name : 'A new shop'}</h1>
              {shop ? <Climate shop={shop} /> : null}
              {shop ? <Weather shop={shop} mayWrite={mayWrite} /> : null}
              {mayWrite ? (
                <ShopForm key={shop?.version ?? 0} shop={shop ?? null} />
              ) : (
                <p className="quiet">Shops are changed by those who have the permission shops:write. This key may read them.</p>
              )}
            </>
          );
        }}
      </Answered>
    </div>
  );
}

interface Draft {
  readonly code: string;
  readonly name: string;
  readonly elevationM: string;
  readonly timeZone: string;
  readonly currency: string;
  readonly labourRate: string;
  readonly means: readonly string[];
  readonly spreads: readonly string[];
}

const draftOf = (shop: Shop | null): Draft => ({
  code: shop?.code ?? '',
  name: shop?.name ?? '',
  elevationM: shop ? String(shop.elevationM) : '',
  timeZone: shop?.timeZone ?? Intl.DateTimeFormat().resolvedOptions().timeZone,
  currency: shop?.currency ?? '',
  labourRate: shop ? String(shop.labourRate) : '',
  means: MONTHS.map((_, i) => (shop ? String(shop.normals[i]!.meanC) : '')),
  spreads: MONTHS.map((_, i) => (shop ? String(shop.normals[i]!.sdC) : '')),
});

const isNumber = (text: string) => text.trim() !== '' && Number.isFinite(Number(text));

function bodyOf(draft: Draft): NewShop {
  return {
    code: draft.code.trim(),
    name: draft.name.trim(),
    elevationM: Number(draft.elevationM),
    timeZone: draft.timeZone.trim(),
    currency: draft.currency.trim().toUpperCase(),
    labourRate: Number(draft.labourRate),
    normals: MONTHS.map((_, i) => ({ meanC: Number(draft.means[i]), sdC: Number(draft.spreads[i]) })),
  };
}

function ShopForm({ shop }: { readonly shop: Shop | null }) {
  const id = useId();
  const { add, change } = useShopActions();
  const [draft, setDraft] = useState(() => draftOf(shop));
  const put = (part: Partial<Draft>) => setDraft({ ...draft, ...part });
  const numbers = [draft.elevationM, draft.labourRate, ...draft.means, ...draft.spreads];
  const missing = [draft.code, draft.name, draft.timeZone, draft.currency].some((text) => text.trim() === '') || !numbers.every(isNumber);
  const busy = add.isPending || change.isPending;
  const submit = (event: FormEvent) => {
    event.preventDefault();
    if (missing) return;
    if (shop) change.mutate({ id: shop.id, version: shop.version, body: bodyOf(draft) });
    else add.mutate(bodyOf(draft), { onSuccess: (made) => goTo(`#/settings/shops/${made.id}`) });
  };
  const field = (label: string, part: 'code' | 'name' | 'elevationM' | 'timeZone' | 'currency' | 'labourRate') => (
    <div className="field">
      <label htmlFor={`${id}-${part}`}>{label}</label>
      <input id={`${id}-${part}`} value={draft[part]} onChange={({ target }) => put({ [part]: target.value })} />
    </div>
  );
  return (
    <form className="sheet stack" onSubmit={submit} aria-label="Shop">
      <h2>{shop ? 'Change it' : 'What it is'}</h2>
      <div className="form-row">
        {field('Name', 'name')}
        {field('Code, as your own system says it', 'code')}
        {field('Elevation, m', 'elevationM')}
        {field('Time zone (IANA)', 'timeZone')}
        {field('Currency (ISO 4217)', 'currency')}
        {field('Price of an hour of work', 'labourRate')}
      </div>
      <fieldset className="part">
        <legend>Climate normals: mean of the daily mean temperature, and its standard deviation within the month, °C</legend>
        <div className="table-wrap">
          <table className="normals">
            <thead>
              <tr>
                <th scope="col">Month</th>
                {MONTHS.map((month) => (
                  <th key={month} scope="col">
                    {month}
                  </th>
                ))}
              </tr>
            </thead>
            <tbody>
              <NormalsRow name="Mean" values={draft.means} put={(means) => put({ means })} />
              <NormalsRow name="Standard deviation" values={draft.spreads} put={(spreads) => put({ spreads })} />
            </tbody>
          </table>
        </div>
        <small>From the nearest weather station. Means alone would lose the heat of the months between the seasons.</small>
      </fieldset>
      <div className="row">
        <button type="submit" className="primary" disabled={missing || busy}>
          {shop ? 'Save it' : 'Add it'}
        </button>
        {missing ? <span className="quiet">Every field and all twelve months are needed.</span> : null}
        {change.isSuccess ? <span role="status">Saved. Figures that hang on it are made anew.</span> : null}
      </div>
      {(add.error ?? change.error) ? <Refused error={add.error ?? change.error} what="this shop" /> : null}
    </form>
  );
}

interface NormalsProps {
  readonly name: string;
  readonly values: readonly string[];
  readonly put: (values: readonly string[]) => void;
}

function NormalsRow({ name, values, put }: NormalsProps) {
  return (
    <tr>
      <th scope="row">{name}</th>
      {MONTHS.map((month, i) => (
        <td key={month}>
          <input
            aria-label={`${name}, ${month}, °C`}
            inputMode="decimal"
            value={values[i]}
            aria-invalid={values[i] !== '' && !isNumber(values[i]!)}
            onChange={({ target }) => put(values.map((one, at) => (at === i ? target.value : one)))}
          />
        </td>
      ))}
    </tr>
  );
}
