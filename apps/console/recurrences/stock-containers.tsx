import { type FormEvent, type ReactNode, useState } from 'react';
import type { Cylinder, CylinderContent, Machine, RefrigerantName } from '../client/generated/api.ts';
import { cylinderContentValues, refrigerantNameValues } from '../client/generated/api.ts';
import { useShops } from '../client/queries.ts';
import { useStockActions } from '../client/stock-queries.ts';
import { Choice } from '../shell/choice.tsx';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { nameOfShop } from '../shell/shop-names.ts';
import { Nothing, Refused } from '../shell/states.tsx';
import { Sure } from '../shell/sure.tsx';
import { TextField } from '../shell/text-field.tsx';
import { count, day, inSentence, plural } from '../shell/words.ts';
import { shopChoices } from './group-choices.tsx';
import { CorrectCylinder, CorrectMachine } from './stock-corrections.tsx';

const today = () => new Date().toISOString().slice(0, 10);
const isAtLeast = (text: string, least: number) => text.trim() !== '' && Number.isFinite(Number(text)) && Number(text) >= least;

const inUse = (retiredOn: string | null) => (retiredOn === null ? 'in use' : `out of use from ${day(retiredOn)}`);

/** Machines that recover and charge: the error of their scale is the error of the books. */
export function MachineList({ machines, mayWrite }: { readonly machines: readonly Machine[]; readonly mayWrite: boolean }) {
  const shops = useShops();
  const { changeMachine } = useStockActions();
  const busy = changeMachine.isPending;
  const change = (machine: Machine, body: { checkedOn?: string; retiredOn?: string | null }) =>
    changeMachine.mutate({ id: machine.id, version: machine.version, body });
  const columns: readonly LongColumn<Machine>[] = [
    { key: 'name', head: 'Machine', kind: 'head', cell: ({ name }) => name },
    { key: 'shop', head: 'Shop', cell: ({ shopId }) => nameOfShop(shops.data, shopId) },
    { key: 'refrigerant', head: 'Refrigerant', cell: ({ refrigerant }) => refrigerant },
    { key: 'error', head: 'Scale errs by, g', kind: 'number', cell: ({ scaleErrorG }) => `± ${count(scaleErrorG)}` },
    {
      key: 'checked',
      head: 'Scale checked',
      cell: ({ checkedOn }) => (checkedOn === null ? <span className="flag">never</span> : day(checkedOn)),
    },
    { key: 'state', head: 'State', cell: ({ retiredOn }) => inUse(retiredOn) },
    {
      key: 'do',
      head: 'Do',
      cell: (machine) =>
        mayWrite ? (
          <div className="row">
            <CorrectMachine machine={machine} />
            <button type="button" className="small" disabled={busy} onClick={() => change(machine, { checkedOn: today() })}>
              Checked today<span className="unseen">: scale of {machine.name}</span>
            </button>
            <Retire
              name={machine.name}
              retired={machine.retiredOn !== null}
              busy={busy}
              set={(retiredOn) => change(machine, { retiredOn })}
            />
          </div>
        ) : (
          '–'
        ),
    },
  ];
  return (
    <Containers
      title="Machines"
      one="machine"
      rows={machines}
      columns={columns}
      nothing="Weights recorded with repairs come from a machine: add those in use, with the error of their scale."
      error={changeMachine.error}
      form={mayWrite ? <MachineForm /> : null}
    />
  );
}

/** Cylinders: counted one by one at a stock take. */
export function CylinderList({ cylinders, mayWrite }: { readonly cylinders: readonly Cylinder[]; readonly mayWrite: boolean }) {
  const shops = useShops();
  const { changeCylinder } = useStockActions();
  const columns: readonly LongColumn<Cylinder>[] = [
    { key: 'label', head: 'Cylinder', kind: 'head', cell: ({ label }) => label },
    { key: 'shop', head: 'Shop', cell: ({ shopId }) => nameOfShop(shops.data, shopId) },
    { key: 'refrigerant', head: 'Refrigerant', cell: ({ refrigerant }) => refrigerant },
    { key: 'content', head: 'Holds', cell: ({ content }) => `${inSentence(content)} refrigerant` },
    { key: 'capacity', head: 'May hold, g', kind: 'number', cell: ({ capacityG }) => count(capacityG) },
    { key: 'state', head: 'State', cell: ({ retiredOn }) => inUse(retiredOn) },
    {
      key: 'do',
      head: 'Do',
      cell: (cylinder) =>
        mayWrite ? (
          <div className="row">
            <CorrectCylinder cylinder={cylinder} />
            <Retire
              name={cylinder.label}
              retired={cylinder.retiredOn !== null}
              busy={changeCylinder.isPending}
              set={(retiredOn) => changeCylinder.mutate({ id: cylinder.id, version: cylinder.version, body: { retiredOn } })}
            />
          </div>
        ) : (
          '–'
        ),
    },
  ];
  return (
    <Containers
      title="Cylinders"
      one="cylinder"
      rows={cylinders}
      columns={columns}
      nothing="Add each cylinder as it is labelled; a stock take weighs them one by one."
      error={changeCylinder.error}
      form={mayWrite ? <CylinderForm /> : null}
    />
  );
}

interface RetireProps {
  readonly name: string;
  readonly retired: boolean;
  readonly busy: boolean;
  readonly set: (retiredOn: string | null) => void;
}

const Retire = ({ name, retired, busy, set }: RetireProps) => (
  <Sure
    first={retired ? 'Take back' : 'Put out of use'}
    second={retired ? 'Really take back' : 'Really: out of use from today'}
    of={name}
    busy={busy}
    act={() => set(retired ? null : today())}
  />
);

interface ContainersProps<Row> {
  readonly title: string;
  readonly one: string;
  readonly rows: readonly Row[];
  readonly columns: readonly LongColumn<Row>[];
  readonly nothing: string;
  readonly error: unknown;
  readonly form: ReactNode;
}

function Containers<Row extends { readonly id: string }>({ title, one, rows, columns, nothing, error, form }: ContainersProps<Row>) {
  return (
    <section className="sheet stack" aria-label={title}>
      <h2>{title}</h2>
      {error ? <Refused error={error} what={`this ${one}`} /> : null}
      {rows.length === 0 ? (
        <Nothing title={`No ${one} is entered yet.`}>{nothing}</Nothing>
      ) : (
        <LongTable caption={plural(rows.length, one)} rows={rows} rowKey={({ id }) => id} rowHeight={44} columns={columns} />
      )}
      {form === null ? null : (
        <details>
          <summary>Add a {one}</summary>
          {form}
        </details>
      )}
    </section>
  );
}

function MachineForm() {
  const { addMachine } = useStockActions();
  const [shopId, setShop] = useState('');
  const [refrigerant, setRefrigerant] = useState<RefrigerantName>('R-1234yf');
  const [name, setName] = useState('');
  const [scaleError, setScaleError] = useState('');
  const whole = shopId !== '' && name.trim() !== '' && isAtLeast(scaleError, 0);
  const submit = (event: FormEvent) => {
    event.preventDefault();
    if (!whole) return;
    addMachine.mutate({ shopId, refrigerant, name: name.trim(), scaleErrorG: Number(scaleError) }, { onSuccess: () => setName('') });
  };
  return (
    <AddForm label="Add a machine" whole={whole} busy={addMachine.isPending} submit={submit} error={addMachine.error}>
      <Where shopId={shopId} setShop={setShop} refrigerant={refrigerant} setRefrigerant={setRefrigerant} />
      <TextField label="Name of the machine" value={name} maxLength={120} change={setName} />
      <TextField label="Its scale errs by at most, g" inputMode="decimal" value={scaleError} change={setScaleError} />
    </AddForm>
  );
}

function CylinderForm() {
  const { addCylinder } = useStockActions();
  const [shopId, setShop] = useState('');
  const [refrigerant, setRefrigerant] = useState<RefrigerantName>('R-1234yf');
  const [label, setLabel] = useState('');
  const [content, setContent] = useState<CylinderContent>('new');
  const [capacity, setCapacity] = useState('');
  const whole = shopId !== '' && label.trim() !== '' && isAtLeast(capacity, 1);
  const submit = (event: FormEvent) => {
    event.preventDefault();
    if (!whole) return;
    addCylinder.mutate(
      { shopId, refrigerant, label: label.trim(), content, capacityG: Number(capacity) },
      { onSuccess: () => setLabel('') },
    );
  };
  return (
    <AddForm label="Add a cylinder" whole={whole} busy={addCylinder.isPending} submit={submit} error={addCylinder.error}>
      <Where shopId={shopId} setShop={setShop} refrigerant={refrigerant} setRefrigerant={setRefrigerant} />
      <TextField label="Label on the cylinder" value={label} maxLength={60} change={setLabel} />
      <Choice
        label="It holds refrigerant that is"
        value={content}
        options={cylinderContentValues.map((code) => [code, inSentence(code)] as const)}
        none={null}
        change={(value) => value !== '' && setContent(value)}
      />
      <TextField label="Refrigerant it may hold, g" inputMode="decimal" value={capacity} change={setCapacity} />
    </AddForm>
  );
}

interface WhereProps {
  readonly shopId: string;
  readonly setShop: (id: string) => void;
  readonly refrigerant: RefrigerantName;
  readonly setRefrigerant: (refrigerant: RefrigerantName) => void;
}

function Where({ shopId, setShop, refrigerant, setRefrigerant }: WhereProps) {
  const shops = useShops();
  return (
    <>
      <Choice label="It stands at" value={shopId} options={shopChoices(shops.data)} none="choose a shop" change={setShop} />
      <Choice
        label="It is for"
        value={refrigerant}
        options={refrigerantNameValues.map((code) => [code, code] as const)}
        none={null}
        change={(value) => value !== '' && setRefrigerant(value)}
      />
    </>
  );
}

interface AddProps {
  readonly label: string;
  readonly whole: boolean;
  readonly busy: boolean;
  readonly submit: (event: FormEvent) => void;
  readonly error: unknown;
  readonly children: ReactNode;
}

function AddForm({ label, whole, busy, submit, error, children }: AddProps) {
  return (
    <form className="stack" onSubmit={submit} aria-label={label}>
      <div className="form-row">{children}</div>
      <div className="row">
        <button type="submit" className="primary" disabled={!whole || busy}>
          {label}
        </button>
        {whole ? null : <span className="quiet">Every field is needed.</span>}
      </div>
      {error ? <Refused error={error} what="this one" /> : null}
    </form>
  );
}
