import { useState } from 'react';
import { TextOrFile } from '../bay/text-or-file.tsx';
import type { NewDayMean, Shop } from '../client/generated/api.ts';
import { usePutWeather, useWeather } from '../client/settings-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Nothing, Refused } from '../shell/states.tsx';
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
            <p>
              {plural(observedDays, 'day')} from {day(firstDay)} to {day(lastDay)}. On all others the heat clock runs on the normals.
            </p>
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

function spanWords(days: readonly NewDayMean[]): string {
  const sorted = days.map((one) => one.day).sort();
  const means = days.flatMap(({ meanC }) => meanC ?? []);
  return `${day(sorted[0]!)} to ${day(sorted.at(-1)!)}, ${count(Math.min(...means))} to ${count(Math.max(...means))} °C`;
}
