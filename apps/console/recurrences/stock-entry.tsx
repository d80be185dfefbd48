import { type FormEvent, useState } from 'react';
import type { Cylinder, EntryKind, Machine, NewRefrigerantEntry, RefrigerantName } from '../client/generated/api.ts';
import { entryKindValues, refrigerantNameValues } from '../client/generated/api.ts';
import { useShops } from '../client/queries.ts';
import { useStockActions } from '../client/stock-queries.ts';
import { Choice } from '../shell/choice.tsx';
import { Refused } from '../shell/states.tsx';
import { TextField } from '../shell/text-field.tsx';
import { count, day as dayWords } from '../shell/words.ts';
import { shopChoices } from './group-choices.tsx';

const KINDS: Readonly<Record<EntryKind, string>> = {
  purchase: 'bought',
  shipment: 'sent out',
  'stock-take': 'counted (stock take)',
};
const WHOLE_SHOP = 'the whole shop';
const today = () => new Date().toISOString().slice(0, 10);
const isMass = (text: string) => text.trim() !== '' && Number(text) >= 0 && Number.isFinite(Number(text));

interface Props {
  readonly machines: readonly Machine[];
  readonly cylinders: readonly Cylinder[];
}

/** One entry of the books: a purchase, a shipment or a stock take. */
export function EntryForm({ machines, cylinders }: Props) {
  const shops = useShops();
  const { enter } = useStockActions();
  const [kind, setKind] = useState<EntryKind>('purchase');
  const [shopId, setShop] = useState('');
  const [refrigerant, setRefrigerant] = useState<RefrigerantName>('R-1234yf');
  const [mass, setMass] = useState('');
  const [day, setDay] = useState(today);
  const [container, setContainer] = useState('');
  const [toShopId, setTo] = useState('');
  const [document, setDocument] = useState('');
  const inUse = <T extends Machine | Cylinder>(all: readonly T[]) =>
    all.filter((one) => one.shopId === shopId && one.refrigerant === refrigerant && (one.retiredOn === null || one.retiredOn > day));
  const containers = [
    ...inUse(cylinders).map(({ id, label }) => [`cylinder ${id}`, `cylinder ${label}`] as const),
    ...inUse(machines).map(({ id, name }) => [`machine ${id}`, `machine ${name}`] as const),
  ];
  const missing = [shopId === '' ? 'the shop' : null, isMass(mass) ? null : 'the mass in grams', day === '' ? 'the day' : null].filter(
    (one) => one !== null,
  );
  const submit = (event: FormEvent) => {
    event.preventDefault();
    if (missing.length > 0) return;
    const [what, id] = containers.some(([value]) => value === container) ? container.split(' ') : [];
    const body: NewRefrigerantEntry = {
      shopId,
      kind,
      refrigerant,
      massG: Number(mass),
      day,
      ...(document.trim() === '' ? {} : { document: document.trim() }),
      ...(what === 'cylinder' ? { cylinderId: id } : what === 'machine' ? { machineId: id } : {}),
      ...(kind === 'shipment' && toShopId !== '' ? { toShopId } : {}),
    };
    enter.mutate(body, {
      onSuccess: () => {
        setMass('');
        setDocument('');
      },
    });
  };
  const entered = enter.isSuccess ? enter.data : null;
  return (
    <form className="sheet stack" onSubmit={submit} aria-label="Make an entry">
      <h2>Make an entry</h2>
      <div className="form-row">
        <Choice
          label="What happened"
          value={kind}
          options={entryKindValues.map((code) => [code, KINDS[code]] as const)}
          none={null}
          change={(value) => value !== '' && setKind(value)}
        />
        <Choice label="At the shop" value={shopId} options={shopChoices(shops.data)} none="choose" change={setShop} />
        <Choice
          label="Which refrigerant"
          value={refrigerant}
          options={refrigerantNameValues.map((code) => [code, code] as const)}
          none={null}
          change={(value) => value !== '' && setRefrigerant(value)}
        />
        <TextField
          label="Mass of refrigerant, g"
          inputMode="decimal"
          value={mass}
          change={setMass}
          wrong={mass === '' || isMass(mass) ? null : 'Type grams, without the cylinder itself.'}
        />
        <TextField label="On the day" type="date" value={day} max={today()} change={setDay} />
        <Choice
          label={kind === 'stock-take' ? 'Counted in' : 'Cylinder or machine'}
          value={containers.some(([value]) => value === container) ? container : ''}
          options={containers}
          none={kind === 'stock-take' ? WHOLE_SHOP : 'not named'}
          change={setContainer}
        />
        {kind === 'shipment' ? (
          <Choice
            label="Sent to"
            value={toShopId}
            options={shopChoices(shops.data).filter(([id]) => id !== shopId)}
            none="out of the organisation"
            change={setTo}
          />
        ) : null}
        <TextField label="Number of its document" value={document} maxLength={120} change={setDocument} />
      </div>
      <div className="row">
        <button type="submit" className="primary" disabled={missing.length > 0 || enter.isPending}>
          Enter it
        </button>
        {missing.length > 0 ? <span className="quiet">Still needed: {missing.join(', ')}.</span> : null}
        {entered && missing.length > 0 ? (
          <span role="status">
            Entered: {count(entered.massG)} g, {dayWords(entered.day)}.
          </span>
        ) : null}
      </div>
      {enter.error ? <Refused error={enter.error} what="this entry" /> : null}
    </form>
  );
}
