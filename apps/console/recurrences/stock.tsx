import type { Cylinder, EntryKind, Machine, RefrigerantEntry, RefrigerantEntryFilter } from '../client/generated/api.ts';
import { entryKindValues, refrigerantNameValues } from '../client/generated/api.ts';
import { useMe, useShops } from '../client/queries.ts';
import { useCylinders, useEntries, useMachines, useStockActions } from '../client/stock-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { address, goTo } from '../shell/route.ts';
import { nameOfShop } from '../shell/shop-names.ts';
import { Nothing, Refused } from '../shell/states.tsx';
import { Sure } from '../shell/sure.tsx';
import { count, day, plural, words } from '../shell/words.ts';
import { known, PeriodFilters, periodOf } from './filters.tsx';
import { ShopChoice } from './group-choices.tsx';
import { CylinderList, MachineList } from './stock-containers.tsx';
import { CorrectEntry } from './stock-corrections.tsx';
import { EntryForm } from './stock-entry.tsx';

const PATH = '/recurrences/stock';

/** What each shop holds of refrigerant: what was bought, sent out and counted, in which cylinders and machines. */
export function Stock({ search }: { readonly search: URLSearchParams }) {
  const me = useMe();
  const may = (permission: 'refrigerant:write' | 'platforms:write') => me.data?.permissions.includes(permission) ?? false;
  const machines = useMachines();
  const cylinders = useCylinders();
  const kind = known(search.get('kind'), entryKindValues);
  const refrigerant = known(search.get('refrigerant'), refrigerantNameValues);
  const shopId = search.get('shop') ?? undefined;
  const { since, until } = periodOf(search);
  const filter: RefrigerantEntryFilter = {
    ...(since ? { since } : {}),
    ...(until ? { until } : {}),
    ...(kind ? { kind } : {}),
    ...(refrigerant ? { refrigerant } : {}),
    ...(shopId ? { shopId } : {}),
  };
  const change = (part: Record<string, string>) => goTo(address(PATH, { ...Object.fromEntries(search), ...part }));
  return (
    <div className="stack">
      <div className="stack tight">
        <h1>Refrigerant in stock</h1>
        <p className="lead">
          Purchases, shipments and stock takes of each shop. Between two stock takes the books show what is missing:{' '}
          <a href="#/recurrences/refrigerant">does it add up?</a>
        </p>
      </div>
      <Answered query={machines} what="the machines">
        {(allMachines) => (
          <Answered query={cylinders} what="the cylinders">
            {(allCylinders) => (
              <>
                {may('refrigerant:write') ? (
                  <EntryForm machines={allMachines} cylinders={allCylinders} />
                ) : me.data ? (
                  <p className="quiet">Entries are made with the permission refrigerant:write. This key may read them.</p>
                ) : null}
                <PeriodFilters path={PATH} search={search} faults={false}>
                  <ShopChoice value={shopId} change={(value) => change({ shop: value })} />
                  <Choice
                    label="Kind"
                    value={kind ?? ''}
                    options={entryKindValues.map((code) => [code, words(code)] as const)}
                    none="every kind"
                    change={(value) => change({ kind: value })}
                  />
                  <Choice
                    label="Refrigerant"
                    value={refrigerant ?? ''}
                    options={refrigerantNameValues.map((code) => [code, code] as const)}
                    none="every one"
                    change={(value) => change({ refrigerant: value })}
                  />
                </PeriodFilters>
                <Entries filter={filter} machines={allMachines} cylinders={allCylinders} mayWrite={may('refrigerant:write')} />
                <MachineList machines={allMachines} mayWrite={may('platforms:write')} />
                <CylinderList cylinders={allCylinders} mayWrite={may('platforms:write')} />
              </>
            )}
          </Answered>
        )}
      </Answered>
    </div>
  );
}

interface EntriesProps {
  readonly filter: RefrigerantEntryFilter;
  readonly machines: readonly Machine[];
  readonly cylinders: readonly Cylinder[];
  readonly mayWrite: boolean;
}

function Entries({ filter, machines, cylinders, mayWrite }: EntriesProps) {
  const pages = useEntries(filter);
  const shops = useShops();
  const { remove } = useStockActions();
  const columns: readonly LongColumn<RefrigerantEntry>[] = [
    { key: 'day', head: 'Day', kind: 'date', cell: (entry) => day(entry.day) },
    { key: 'kind', head: 'What', cell: (entry) => kindWords(entry, (id) => nameOfShop(shops.data, id)) },
    { key: 'shop', head: 'Shop', cell: ({ shopId }) => nameOfShop(shops.data, shopId) },
    { key: 'refrigerant', head: 'Refrigerant', cell: ({ refrigerant }) => refrigerant },
    { key: 'mass', head: 'Mass, g', kind: 'number', cell: ({ massG }) => count(massG) },
    {
      key: 'in',
      head: 'Cylinder or machine',
      cell: ({ cylinderId, machineId }) =>
        cylinders.find(({ id }) => id === cylinderId)?.label ?? machines.find(({ id }) => id === machineId)?.name ?? '–',
    },
    { key: 'document', head: 'Document', cell: ({ document, note }) => [document, note].filter((one) => one !== null).join(': ') || '–' },
    {
      key: 'do',
      head: 'Do',
      cell: (entry) =>
        mayWrite ? (
          <div className="row">
            <CorrectEntry entry={entry} />
            <Sure
              first="Take out"
              second="Really take out"
              of={`${count(entry.massG)} g of ${day(entry.day)}`}
              busy={remove.isPending}
              act={() => remove.mutate(entry.id)}
            />
          </div>
        ) : (
          '–'
        ),
    },
  ];
  return (
    <>
      {remove.error ? <Refused error={remove.error} what="this entry" /> : null}
      <PagedList
        pages={pages}
        what="the entries"
        label="Entries"
        nothing={
          <Nothing title="Nothing is entered in this period.">
            Begin with a stock take of every cylinder and machine: from then on the books know what there should be.
          </Nothing>
        }
        caption={(entries) =>
          `${plural(entries.length, 'entry', 'entries')} so far, newest first. Of a changed entry the trail keeps what stood before.`
        }
        rowKey={({ id }) => id}
        columns={columns}
      />
    </>
  );
}

const KINDS: Readonly<Record<EntryKind, string>> = { purchase: 'Bought', shipment: 'Sent out', 'stock-take': 'Counted' };
const kindWords = ({ kind, toShopId }: RefrigerantEntry, nameOf: (id: string) => string) =>
  toShopId === null ? KINDS[kind] : `Sent to ${nameOf(toShopId)}`;
