/** Rows read together: a page takes a fraction of the time a statement may take, whatever the size of the region. */
const PAGE = 2_000;
/** Before every identifier. */
const NONE = '00000000-0000-0000-0000-000000000000';

/** All rows of a statement that is asked page after page, each after the last `key` of the page before. */
export async function inPages<Row extends { readonly key: string }>(
  page: (after: string, limit: number) => Promise<readonly Row[]>,
): Promise<Omit<Row, 'key'>[]> {
  const all: Omit<Row, 'key'>[] = [];
  for (let after = NONE; ; ) {
    const rows: readonly Row[] = await page(after, PAGE);
    for (const row of rows) all.push(row);
    if (rows.length < PAGE) return all;
    after = rows.at(-1)!.key;
  }
}
