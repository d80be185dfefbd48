import { lazy, Suspense } from 'react';
import {
  complaintValues,
  compressorKindValues,
  layoutValues,
  type Platform,
  refrigerantNameValues,
  type Shop,
} from '../client/generated/api.ts';
import { Choice } from '../shell/choice.tsx';
import { words } from '../shell/words.ts';
import { NumberField, Part } from './fields.tsx';
import type { FormProps } from './forms.tsx';
import { platformOfVin } from './platform-of-vin.ts';

const VinCamera = lazy(() => import('./vin-camera.tsx').then(({ VinCamera }) => ({ default: VinCamera })));
/** Chromium has it on tablets; elsewhere the number is typed. */
const HAS_READER = 'BarcodeDetector' in globalThis && navigator.mediaDevices !== undefined;

const named = <T extends string>(codes: readonly T[]) => codes.map((code) => [code, words(code)] as const);
const TAPS = ['compressor-discharge', 'condenser-outlet', 'liquid-line-before-drier', 'liquid-line-after-drier', 'valve-inlet'] as const;

interface Props extends FormProps {
  readonly platforms: readonly Platform[];
  readonly shops: readonly Shop[];
  readonly next: () => void;
}

export function CarForm({ draft, change, platforms, shops, next }: Props) {
  const platform = platforms.find(({ id }) => id === draft.platformId);
  const named17 = (vin: string) => {
    const found = draft.platformByHand ? null : platformOfVin(vin, platforms);
    change({ vin, ...(found ? { platformId: found.id } : {}) });
  };
  return (
    <Part title="The car">
      <div className="row vin">
        <div className="field">
          <label htmlFor="bay-vin">VIN (hashed on arrival, never stored)</label>
          <input
            id="bay-vin"
            value={draft.vin}
            autoComplete="off"
            autoCapitalize="characters"
            spellCheck={false}
            maxLength={20}
            onChange={({ target }) => named17(target.value.toUpperCase())}
            // A hand scanner ends with Enter, and so does a hand: it goes on to the readings instead of judging nothing.
            onKeyDown={(event) => {
              if (event.key !== 'Enter' || draft.vin === '') return;
              event.preventDefault();
              next();
            }}
          />
        </div>
        {HAS_READER ? (
          <Suspense fallback={null}>
            <VinCamera found={named17} />
          </Suspense>
        ) : null}
      </div>
      <div className="fields">
        <Choice
          label="Platform"
          value={draft.platformId}
          options={platforms.map(({ id, name }) => [id, name] as const)}
          none="not listed: three questions"
          change={(platformId) => change({ platformId, platformByHand: platformId !== '' })}
        />
        <Choice
          label="Shop"
          value={draft.shopId}
          options={shops.map(({ id, name, elevationM }) => [id, `${name}, ${elevationM} m`] as const)}
          none="another place"
          change={(shopId) => change({ shopId })}
        />
        {draft.shopId === '' ? (
          <NumberField label="Elevation" unit="m" value={draft.elevationM} change={(elevationM) => change({ elevationM })} />
        ) : null}
        <Choice
          label="Complaint"
          value={draft.complaint}
          options={named(complaintValues)}
          none={null}
          change={(complaint) => complaint !== '' && change({ complaint })}
        />
      </div>
      {platform ? (
        <small>
          {words(platform.layout)}, {words(platform.compressor).toLowerCase()}, {platform.refrigerant}, {platform.chargeG} g. High-side
          port: {words(platform.highSidePort).toLowerCase()}. Transducer: {words(platform.highSideTransducer).toLowerCase()}.
        </small>
      ) : (
        <Unlisted draft={draft} change={change} />
      )}
      <details>
        <summary>Year and odometer</summary>
        <div className="fields">
          <NumberField label="Model year" unit="" value={draft.modelYear} change={(modelYear) => change({ modelYear })} />
          <NumberField label="Odometer" unit="km" value={draft.odometerKm} change={(odometerKm) => change({ odometerKm })} />
        </div>
      </details>
    </Part>
  );
}

/** Three questions give a layout-wide answer; where the two high-side instruments sit tells which stretch they bound. */
function Unlisted({ draft, change }: FormProps) {
  return (
    <div className="fields">
      <Choice label="Layout" value={draft.layout} options={named(layoutValues)} none="choose" change={(layout) => change({ layout })} />
      <Choice
        label="Compressor"
        value={draft.compressor}
        options={named(compressorKindValues)}
        none="choose"
        change={(compressor) => change({ compressor })}
      />
      <Choice
        label="Refrigerant"
        value={draft.refrigerant}
        options={named(refrigerantNameValues)}
        none="choose"
        change={(refrigerant) => change({ refrigerant })}
      />
      <Choice
        label="Gauge sits at"
        value={draft.gaugeAt}
        options={named(TAPS)}
        none="not known"
        change={(gaugeAt) => change({ gaugeAt })}
      />
      <Choice
        label="Transducer sits at"
        value={draft.transducerAt}
        options={named(TAPS)}
        none="not known"
        change={(transducerAt) => change({ transducerAt })}
      />
    </div>
  );
}
