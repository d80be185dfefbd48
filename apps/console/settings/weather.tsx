import { useState } from 'react';
import { TextOrFile } from '../bay/text-or-file.tsx';
import type { NewDayMean, Shop } from '../client/generated/api.ts';
import { usePutWeather, useWeather } from '../client/settings-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Nothing, Refused } from '../shell/states.tsx';
import { Sure } from '../shell/sure.tsx';
import { TextField } from '../shell/text-field.tsx';
import { count, day, plural } from '../shell/words.ts';
import { readDayMeans } from './day-means.ts';

/** Daily temperatures as observed: where there are any, the heat clock runs on them and not on the normals. */
export function Weather({ shop, mayWrite }: { readonly shop: Shop; readonly mayWrite: boolean }) {
  const weather = useWeather(shop.id);
  const put = usePutWeather(shop.id);
  const [read, setRead] = useState<readonly NewDayMean[] | null>(null);
  const take = (text: string) => {
    const taken = readDayMeans(text);
    put.reset();
    setRead(taken.ok ? taken.value : null);
    return taken;
  };
  return (
    <section className="sheet stack" aria-label="Observed weather">
      <h2>Observed weather</h2>
      <Answered query={weather} what="the observed weather">
        {({ observedDays, firstDay, lastDay }) =>
          firstDay === null || lastDay === null ? (
            <Nothing title="No day was observed yet: the heat clock runs on the normals above.">
              {mayWrite
                ? 'Read in the daily mean temperatures of the nearest weather station; an unusual summer then counts as it was.'
                : 'An administrator can read in the daily mean temperatures of the nearest weather station.'}
            </Nothing>
          ) : (
            <>
              <p>
                {plural(observedDays, 'day')} from {day(firstDay)} to {day(lastDay)}. On all others the heat clock runs on the normals.
              </p>
              {mayWrite ? <TakeOut shop={shop} firstDay={firstDay} lastDay={lastDay} /> : null}
            </>
          )
        }
      </Answered>
      {mayWrite ? (
        <>
          <TextOrFile
            summary="Read in daily means"
            hint="Two columns: day (2026-07-01) and mean of the day in °C; a heading and further columns may stand there. A day that is known is replaced."
            accept=".csv,.tsv,.txt,text/csv"
            read={take}
          />
          {read === null ? null : (
            <div className="row">
              <button
                type="button"
                className="primary"
                disabled={put.isPending}
                onClick={() => put.mutate(read, { onSuccess: () => setRead(null) })}
              >
                {put.isPending ? 'Sending…' : `Take in ${plural(read.length, 'day')}`}
              </button>
              <span className="quiet">{spanWords(read)}</span>
            </div>
          )}
          {put.isSuccess ? <p role="status">Taken in. Figures that run on the heat clock are made anew.</p> : null}
          {put.error ? <Refused error={put.error} what="these days" /> : null}
        </>
      ) : null}
    </section>
  );
}

interface TakeOutProps {
  readonly shop: Shop;
  readonly firstDay: string;
  readonly lastDay: string;
}

const DAY_MS = 86_400_000;

/** Days that were read in wrongly go out again: the heat clock runs on the normals there. */
function TakeOut({ shop, firstDay, lastDay }: TakeOutProps) {
  const put = usePutWeather(shop.id);
  const [from, setFrom] = useState(firstDay);
  const [to, setTo] = useState(lastDay);
  const first = from < firstDay ? firstDay : from;
  const last = to > lastDay ? lastDay : to;
  const days = first <= last ? Math.round((Date.parse(last) - Date.parse(first)) / DAY_MS) + 1 : 0;
  const dayAt = (i: number) => new Date(Date.parse(first) + i * DAY_MS).toISOString().slice(0, 10);
  return (
    <details>
      <summary>Take days out</summary>
      <div className="form-row">
        <TextField label="From" type="date" value={from} change={setFrom} />
        <TextField label="To, and with it" type="date" value={to} change={setTo} />
      </div>
      <Sure
        first={days === 0 ? 'No observed day lies there' : `Take out ${plural(days, 'day')}`}
        second="Really take them out"
        of={`of ${shop.name}`}
        busy={put.isPending || days === 0}
        act={() => put.mutate(Array.from({ length: days }, (_, i) => ({ day: dayAt(i), meanC: null })))}
      />
      {put.error ? <Refused error={put.error} what="these days" /> : null}
    </details>
  );
}

function spanWords(days: readonly NewDayMean[]): string {
  const sorted = days.map((one) => one.day).sort();
  const means = days.flatMap(({ meanC }) => meanC ?? []);
  return `${day(sorted[0]!)} to ${day(sorted.at(-1)!)}, ${count(Math.min(...means))} to ${count(Math.max(...means))} °C`;
}
