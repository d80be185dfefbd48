import { type FormEvent, useId, useState } from 'react';
import type {
  CompressorKind,
  CoolerZone,
  Layout,
  NewPlatform,
  Place,
  Platform,
  PressureReference,
  RefrigerantName,
} from '../client/generated/api.ts';
import { compressorKindValues, layoutValues, pressureReferenceValues, refrigerantNameValues } from '../client/generated/api.ts';
import { useMe, usePlatforms } from '../client/queries.ts';
import { usePlatformActions } from '../client/settings-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { goTo } from '../shell/route.ts';
import { Nothing, Refused } from '../shell/states.tsx';
import { count, percent, words } from '../shell/words.ts';
import { LayoutDrawing } from './layout-drawing.tsx';
import { SoundExpectation } from './sound-expectation.tsx';

/** One platform, drawn; `new` for one to be added. */
export function PlatformPage({ id }: { readonly id: string }) {
  const platforms = usePlatforms();
  const me = useMe();
  const mayWrite = me.data?.permissions.includes('platforms:write') ?? false;
  return (
    <div className="stack">
      <p className="no-print">
        <a href="#/settings/platforms">All platforms</a>
      </p>
      <Answered query={platforms} what="the platform">
        {(all) => {
          const platform = all.find((one) => one.id === id);
          if (id !== 'new' && !platform)
            return (
              <>
                <h1>Not here</h1>
                <Nothing title="There is no such platform.">
                  <a href="#/settings/platforms">Go to the platforms</a>
                </Nothing>
              </>
            );
          return (
            <>
              <h1>{platform ? platform.name : 'A new platform'}</h1>
              {platform && !mayWrite ? <Facts platform={platform} /> : null}
              {mayWrite ? <PlatformForm key={platform?.version ?? 0} platform={platform ?? null} family={all[0]?.family ?? ''} /> : null}
              {platform ? <SoundExpectation platform={platform} mayWrite={mayWrite} /> : null}
            </>
          );
        }}
      </Answered>
    </div>
  );
}

function Facts({ platform }: { readonly platform: Platform }) {
  return (
    <div className="beside">
      <section className="sheet circuit" aria-label="Drawing">
        <LayoutDrawing platform={platform} />
      </section>
      <section className="sheet stack" aria-label="Facts">
        <dl className="facts">
          <dt>Family</dt>
          <dd>{platform.family}</dd>
          <dt>Layout</dt>
          <dd>{words(platform.layout)}</dd>
          <dt>Compressor</dt>
          <dd>{words(platform.compressor)}</dd>
          <dt>Specified charge</dt>
          <dd>
            {count(platform.chargeG)} g {platform.refrigerant}; {percent(platform.reserveShare)} in reserve
          </dd>
          <dt>Model years</dt>
          <dd>
            {platform.firstYear} to {platform.lastYear}
          </dd>
          <dt>VIN patterns</dt>
          <dd>{platform.vinPatterns.join(', ') || 'none'}</dd>
        </dl>
        <p className="quiet">Platforms are changed by those who have the permission platforms:write.</p>
      </section>
    </div>
  );
}

const HIGH: readonly Place[] = [
  'compressor-discharge',
  'condenser-inlet',
  'condenser-outlet',
  'liquid-line-before-drier',
  'liquid-line-after-drier',
  'valve-inlet',
];
const LOW: readonly Place[] = ['evaporator-outlet', 'accumulator', 'compressor-suction'];
const named = <T extends string>(codes: readonly T[]) => codes.map((code) => [code, words(code)] as const);

const TEXTS = [
  ['name', 'Name'],
  ['code', 'Code'],
  ['family', 'Family (shares A/C parts)'],
] as const;
const NUMBERS = [
  ['chargeG', 'Specified charge, g'],
  ['reserveShare', 'Share of the charge in reserve, 0 to 1'],
  ['condenserPasses', 'Passes of the condenser'],
  ['subcoolShare', 'Share of its height for subcooling, 0 to 1'],
  ['firstYear', 'First model year'],
  ['lastYear', 'Last model year'],
] as const;
type NumberField = (typeof NUMBERS)[number][0];

interface Draft {
  readonly name: string;
  readonly code: string;
  readonly family: string;
  readonly numbers: Readonly<Record<NumberField, string>>;
  readonly layout: Layout;
  readonly compressor: CompressorKind;
  readonly refrigerant: RefrigerantName;
  readonly highSidePort: Place;
  readonly highSideTransducer: Place;
  readonly lowSidePort: Place;
  readonly transducerReference: PressureReference;
  readonly dualEvaporator: boolean;
  readonly vinPatterns: string;
  readonly coolerZones: readonly CoolerZone[];
}

const draftOf = (platform: Platform | null, family: string): Draft => ({
  name: platform?.name ?? '',
  code: platform?.code ?? '',
  family: platform?.family ?? family,
  numbers: {
    chargeG: String(platform?.chargeG ?? ''),
    reserveShare: String(platform?.reserveShare ?? 0.1),
    condenserPasses: String(platform?.condenserPasses ?? 3),
    subcoolShare: String(platform?.subcoolShare ?? 0.2),
    firstYear: String(platform?.firstYear ?? ''),
    lastYear: String(platform?.lastYear ?? ''),
  },
  layout: platform?.layout ?? 'valve-receiver',
  compressor: platform?.compressor ?? 'fixed-clutch',
  refrigerant: platform?.refrigerant ?? 'R-134a',
  highSidePort: platform?.highSidePort ?? 'compressor-discharge',
  highSideTransducer: platform?.highSideTransducer ?? 'compressor-discharge',
  lowSidePort: platform?.lowSidePort ?? 'compressor-suction',
  transducerReference: platform?.transducerReference ?? 'sealed-gauge',
  dualEvaporator: platform?.dualEvaporator ?? false,
  vinPatterns: platform?.vinPatterns.join(' ') ?? '',
  coolerZones: platform?.coolerZones ?? [],
});

function bodyOf({ numbers, vinPatterns, coolerZones, ...rest }: Draft): NewPlatform {
  return {
    ...rest,
    name: rest.name.trim(),
    code: rest.code.trim(),
    family: rest.family.trim(),
    chargeG: Number(numbers.chargeG),
    reserveShare: Number(numbers.reserveShare),
    condenserPasses: Number(numbers.condenserPasses),
    subcoolShare: Number(numbers.subcoolShare),
    firstYear: Number(numbers.firstYear),
    lastYear: Number(numbers.lastYear),
    vinPatterns: vinPatterns.split(/[\s,]+/).filter((one) => one !== ''),
    coolerZones: [...coolerZones],
  };
}

function PlatformForm({ platform, family }: { readonly platform: Platform | null; readonly family: string }) {
  const id = useId();
  const { add, change } = usePlatformActions();
  const [draft, setDraft] = useState(() => draftOf(platform, family));
  const put = (part: Partial<Draft>) => setDraft({ ...draft, ...part });
  const missing =
    TEXTS.some(([part]) => draft[part].trim() === '') ||
    NUMBERS.some(([part]) => draft.numbers[part].trim() === '' || !Number.isFinite(Number(draft.numbers[part])));
  const submit = (event: FormEvent) => {
    event.preventDefault();
    if (missing) return;
    if (platform) change.mutate({ id: platform.id, version: platform.version, body: bodyOf(draft) });
    else add.mutate(bodyOf(draft), { onSuccess: (made) => goTo(`#/settings/platforms/${made.id}`) });
  };
  const error = add.error ?? change.error;
  return (
    <form className="stack" onSubmit={submit} aria-label="Platform">
      <div className="beside">
        <section className="sheet circuit" aria-label="Drawing">
          <LayoutDrawing platform={draft} />
        </section>
        <section className="sheet stack" aria-label="Where things sit">
          <Choice
            label="Layout"
            value={draft.layout}
            options={named(layoutValues)}
            none={null}
            change={(layout) => layout && put({ layout })}
          />
          <Choice
            label="High-side service port"
            value={draft.highSidePort}
            options={named(HIGH)}
            none={null}
            change={(highSidePort) => highSidePort && put({ highSidePort })}
          />
          <Choice
            label="The car’s high-pressure transducer"
            value={draft.highSideTransducer}
            options={named(HIGH)}
            none={null}
            change={(highSideTransducer) => highSideTransducer && put({ highSideTransducer })}
          />
          <Choice
            label="Low-side service port"
            value={draft.lowSidePort}
            options={named(LOW)}
            none={null}
            change={(lowSidePort) => lowSidePort && put({ lowSidePort })}
          />
          <Choice
            label="What the transducer’s zero means"
            value={draft.transducerReference}
            options={named(pressureReferenceValues)}
            none={null}
            change={(transducerReference) => transducerReference && put({ transducerReference })}
          />
        </section>
      </div>
      <section className="sheet stack" aria-label="What it is">
        <div className="form-row">
          {TEXTS.map(([part, label]) => (
            <div className="field" key={part}>
              <label htmlFor={`${id}-${part}`}>{label}</label>
              <input id={`${id}-${part}`} value={draft[part]} onChange={({ target }) => put({ [part]: target.value })} />
            </div>
          ))}
          <Choice
            label="Compressor"
            value={draft.compressor}
            options={named(compressorKindValues)}
            none={null}
            change={(compressor) => compressor && put({ compressor })}
          />
          <Choice
            label="Refrigerant"
            value={draft.refrigerant}
            options={named(refrigerantNameValues)}
            none={null}
            change={(refrigerant) => refrigerant && put({ refrigerant })}
          />
          {NUMBERS.map(([part, label]) => (
            <div className="field" key={part}>
              <label htmlFor={`${id}-${part}`}>{label}</label>
              <input
                id={`${id}-${part}`}
                inputMode="decimal"
                value={draft.numbers[part]}
                onChange={({ target }) => put({ numbers: { ...draft.numbers, [part]: target.value } })}
              />
            </div>
          ))}
          <div className="field">
            <label htmlFor={`${id}-vin`}>VIN patterns, first eight characters</label>
            <input id={`${id}-vin`} value={draft.vinPatterns} onChange={({ target }) => put({ vinPatterns: target.value })} />
          </div>
          <label className="chip">
            <input type="checkbox" checked={draft.dualEvaporator} onChange={({ target }) => put({ dualEvaporator: target.checked })} />{' '}
            Second evaporator
          </label>
        </div>
        {draft.coolerZones.length === 0 ? null : (
          <p className="quiet">Cooler zones on the condenser face: {draft.coolerZones.map(({ name }) => name).join(', ')}.</p>
        )}
        <div className="row">
          <button type="submit" className="primary" disabled={missing || add.isPending || change.isPending}>
            {platform ? 'Save it' : 'Add it'}
          </button>
          {missing ? <span className="quiet">Name, code, family, charge and years are needed.</span> : null}
          {change.isSuccess ? <span role="status">Saved.</span> : null}
        </div>
        {error ? <Refused error={error} what="this platform" /> : null}
      </section>
    </form>
  );
}
