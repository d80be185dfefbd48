import { useId } from 'react';
import type { FaultCode, Platform } from '../client/generated/api.ts';
import { faultCodeValues } from '../client/generated/api.ts';
import { usePlatforms } from '../client/queries.ts';
import { Choice } from '../shell/choice.tsx';
import { address, goTo } from '../shell/route.ts';
import { inSentence } from '../shell/words.ts';

export const known = <T extends string>(value: string | null, values: readonly T[]): T | undefined => values.find((one) => one === value);

const DAY = /^\d{4}-\d{2}-\d{2}$/;
const UUID = /^[\da-f]{8}(-[\da-f]{4}){3}-[\da-f]{12}$/;

/** What several pages ask about: a period, a fault, a platform. The address holds it; what it holds wrongly is left out. */
export interface Period {
  since?: string;
  until?: string;
  fault?: FaultCode;
  platformId?: string;
}

export function periodOf(search: URLSearchParams): Period {
  const since = search.get('since');
  const until = search.get('until');
  const fault = known(search.get('fault'), faultCodeValues);
  const platformId = search.get('platform');
  return {
    ...(since !== null && DAY.test(since) ? { since } : {}),
    ...(until !== null && DAY.test(until) ? { until } : {}),
    ...(fault === undefined ? {} : { fault }),
    ...(platformId !== null && UUID.test(platformId) ? { platformId } : {}),
  };
}

/** The same as parts of an address. */
export const periodParts = ({ since, until, fault, platformId }: Period) => ({ since, until, fault, platform: platformId });

export const FAULTS = faultCodeValues.filter((code) => code !== 'healthy').map((code) => [code, inSentence(code)] as const);
export const platformChoices = (platforms: readonly Platform[] | undefined) => (platforms ?? []).map(({ id, name }) => [id, name] as const);

interface Props {
  readonly path: string;
  readonly search: URLSearchParams;
  /** Filters the page has beyond these. */
  readonly children?: React.ReactNode;
  readonly faults?: boolean;
}

/** Filters of a period; every change is a new address. */
export function PeriodFilters({ path, search, children, faults = true }: Props) {
  const platforms = usePlatforms();
  const period = periodOf(search);
  const change = (part: Record<string, string>) => goTo(address(path, { ...Object.fromEntries(search), ...part }));
  return (
    <div className="filters no-print">
      <DayField label="From" value={period.since ?? ''} change={(since) => change({ since })} />
      <DayField label="Before" value={period.until ?? ''} change={(until) => change({ until })} />
      {faults ? (
        <>
          <Choice label="Fault" value={period.fault ?? ''} options={FAULTS} none="every fault" change={(fault) => change({ fault })} />
          <Choice
            label="Platform"
            value={period.platformId ?? ''}
            options={platformChoices(platforms.data)}
            none="every platform"
            change={(platform) => change({ platform })}
          />
        </>
      ) : null}
      {children}
    </div>
  );
}

interface DayProps {
  readonly label: string;
  readonly value: string;
  readonly change: (value: string) => void;
}

export function DayField({ label, value, change }: DayProps) {
  const id = useId();
  return (
    <div className="field">
      <label htmlFor={id}>{label}</label>
      <input
        id={id}
        type="date"
        defaultValue={value}
        key={value}
        onBlur={({ target }) => {
          if (target.value !== value && (target.value === '' || DAY.test(target.value))) change(target.value);
        }}
        onKeyDown={(event) => {
          if (event.key === 'Enter') event.currentTarget.blur();
        }}
      />
    </div>
  );
}
