import type { Tx } from '#libs/database/index.js';

/** Daily means of one year, °C; the first is 1 January, null where none is known. */
export interface WeatherYear {
  readonly year: number;
  readonly meansC: (number | null)[];
}

export async function weatherOf(tx: Tx, orgId: string, shopId: string): Promise<WeatherYear[]> {
  const { rows } = await tx.query<WeatherYear>({
    name: 'weather.of',
    text: 'select year, means_c as "meansC" from shop_weather where org_id = $1 and shop_id = $2 order by year',
    values: [orgId, shopId],
  });
  return rows;
}

export async function putWeather(tx: Tx, orgId: string, shopId: string, { year, meansC }: WeatherYear, at: Date): Promise<void> {
  await tx.query({
    name: 'weather.put',
    text: `insert into shop_weather (org_id, shop_id, year, means_c, updated_at) values ($1, $2, $3, $4, $5)
           on conflict (org_id, shop_id, year) do update set means_c = excluded.means_c, updated_at = excluded.updated_at`,
    values: [orgId, shopId, year, meansC, at.toISOString()],
  });
}
