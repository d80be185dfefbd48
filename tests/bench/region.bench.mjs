// One organisation of a million cases (COOLBACK_BENCH_CASES) among twenty: each question against a bare indexed `pg` query of the same run, and against its bar.
// COOLBACK_BENCH_REGION names a folder in which the region is made once and found again; without it, it is made anew and thrown away.
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';
import { openCasebook } from '#libs/casebook/index.js';
import { createPool, openDatabase, startEmbedded } from '#libs/database/index.js';
import { fillRegion } from './region-fill.mjs';

export const CASES = Number(process.env.COOLBACK_BENCH_CASES ?? 1_000_000);
/** Cars are known by a hash under this: whoever serves a region that was made before needs the same. */
export const BENCH_SECRET = Buffer.alloc(32, 7);
const NOW = () => new Date('2026-12-01T12:00:00Z');
const ROUNDS = Number(process.env.COOLBACK_BENCH_ROUNDS ?? 40);
/** What is asked: all of it, or those named, separated by commas. */
const ASKED = (process.env.COOLBACK_BENCH_QUESTIONS ?? 'jobs,curves,boards,similar,patterns').split(',');
const FOUND = 20;
const log = (line) => process.stderr.write(`${line}\n`);
const quantile = (values, q) => [...values].sort((a, b) => a - b)[Math.min(values.length - 1, Math.ceil(values.length * q) - 1)];

async function timed(work) {
  const start = performance.now();
  const result = await work();
  return { ms: performance.now() - start, result };
}

async function asked(name, lines) {
  if (!ASKED.includes(name)) return [];
  const made = await lines();
  for (const { name: what, ratio, detail } of made) log(`${what}: ${ratio.toPrecision(3)} (${detail})`);
  return made;
}

/**
 * Rounds that do not count. V8 compiles what has run for a while: the first few curves of a process that has just begun take up to ten times as long as all
 * later ones, once after each start.
 */
const WARM_UP = 10;

/** Ours and the bare query in turns, after the rounds that warm both up: whatever else the machine does falls on both alike. */
async function inTurns(ours, bare, rounds = ROUNDS) {
  const times = { ours: [], bare: [] };
  for (let i = -WARM_UP; i < rounds; i++) {
    const a = await timed(() => ours(i + WARM_UP));
    const b = await timed(() => bare(i + WARM_UP));
    if (i < 0) continue;
    times.ours.push(a.ms);
    times.bare.push(b.ms);
  }
  return times;
}

/** A question's two lines: against the bare query, and its p95 against the bar. */
function linesOf(name, { ours, bare }, { baseline, aim, barMs }) {
  const of = (values) => `p50 ${quantile(values, 0.5).toFixed(1)} ms, p95 ${quantile(values, 0.95).toFixed(1)} ms`;
  const detail = `${of(ours)}; bare: ${of(bare)}; ${ours.length} rounds in turns after ${WARM_UP} to warm up, ${CASES} cases`;
  return [
    { name: `${name}, median`, ratio: quantile(ours, 0.5) / quantile(bare, 0.5), baseline, aim, detail },
    { name: `${name}, p95`, ratio: quantile(ours, 0.95) / barMs, baseline: `its bar of ${barMs} ms`, aim: 1, detail },
  ];
}

/** Opens the region, made if it is not there, for some work; a region without a folder of its own is thrown away after it. */
export async function withRegion(work) {
  const kept = process.env.COOLBACK_BENCH_REGION;
  const directory = kept ?? mkdtempSync(join(tmpdir(), 'coolback-bench-'));
  mkdirSync(directory, { recursive: true });
  const database = await openDatabase({ COOLBACK_DATA_DIR: directory });
  const pool = createPool(database.appUrl, { max: 4 });
  const bare = new pg.Client({ connectionString: await superUrl(directory, database) });
  await bare.connect();
  try {
    const casebook = openCasebook(pool, BENCH_SECRET, NOW);
    const region = await prepared(casebook, directory, await superUrl(directory, database));
    return await work({ ...region, directory, database, casebook, bare });
  } finally {
    await bare.end();
    await pool.end();
    await database.close();
    if (!kept) rmSync(directory, { recursive: true, force: true });
  }
}

export async function runRegionBench() {
  return withRegion(async ({ casebook, bare, actor, ...region }) => {
    const lines = ASKED.includes('jobs') ? await jobs(casebook, { actor, ...region }) : [];
    const facts = await factsOf(bare, actor.orgId);
    return [
      ...lines,
      ...(await asked('curves', () => curves(casebook, bare, actor, facts))),
      ...(await asked('boards', () => boards(casebook, bare, actor))),
      ...(await asked('similar', () => similar(casebook, bare, actor, facts))),
      ...(await asked('patterns', () => patterns(casebook, bare, actor))),
    ];
  });
}

async function superUrl(directory, database) {
  const url = new URL((await startEmbedded({ directory })).superUrl);
  url.pathname = new URL(database.ownerUrl).pathname;
  return url.toString();
}

/** Fills the region and lets the product derive what is derived; both are told, neither is a question. What was done is noted, so that a run that was interrupted goes on. */
async function prepared(casebook, directory, url) {
  const path = join(directory, 'bench-region.json');
  const note = existsSync(path) ? JSON.parse(readFileSync(path, 'utf8')) : { cases: CASES };
  if (note.cases !== CASES) throw new Error(`${directory} holds a region of ${note.cases} cases, not of ${CASES}`);
  const once = async (step, work) => {
    if (note[step] !== undefined) return note[step];
    const { ms, result } = await timed(work);
    note[step] = result ?? null;
    note[`${step}Ms`] = ms;
    writeFileSync(path, JSON.stringify(note));
    log(`${step}: ${(ms / 1000).toFixed(1)} s`);
    return note[step];
  };
  const derive = async (orgId) =>
    casebook.rebuilds.rebuild(orgId, await casebook.tasks.startTask(orgId, 'derived.rebuild', 0), { check: false });
  const [actor, ...others] = await once('actors', () => fillRegion(casebook, url, CASES, log));
  await once('othersDerived', async () => {
    for (const { orgId } of others) await derive(orgId);
  });
  const { vehicles } = await once('derived', () => derive(actor.orgId));
  // A region that was made before its episodes were packed.
  await once('packed', () => casebook.boards.foldBoards(actor.orgId));
  await once('vacuumed', async () => {
    const client = new pg.Client({ connectionString: url });
    await client.connect();
    await client.query('vacuum analyze');
    await client.end();
  });
  const seconds = (ms) => `${(ms / 1000).toFixed(1)} s`;
  return { actor, derived: `${seconds(note.derivedMs)} for ${vehicles} vehicles when the region was made`, derivedMs: note.derivedMs };
}

/** What the worker computes from the whole region: each run of the bench computes it again. */
async function jobs(casebook, { actor: { orgId }, derived, derivedMs }) {
  const seconds = (ms) => `${(ms / 1000).toFixed(1)} s`;
  const folded = await timed(() => casebook.boards.foldBoards(orgId, { whole: true }));
  log(`folded: ${seconds(folded.ms)}`);
  const scored = await timed(async () =>
    casebook.patterns.scorePatterns(orgId, await casebook.tasks.startTask(orgId, 'patterns.score', 1)),
  );
  log(`patterns: ${seconds(scored.ms)}`);
  const watched = await timed(async () => casebook.watches.scoreWatches(orgId, await casebook.tasks.startTask(orgId, 'watches.score', 1)));
  log(`watches: ${seconds(watched.ms)}`);
  const region = `${CASES} cases, one process`;
  return [
    {
      name: 'patterns of the whole region weighed again',
      ratio: scored.ms / 600_000,
      baseline: 'its bar of 10 minutes',
      aim: 1,
      detail: `${seconds(scored.ms)}; ${region}`,
    },
    {
      name: 'watches of the whole region looked at again',
      ratio: watched.ms / 600_000,
      baseline: 'ten minutes, as for patterns',
      aim: 1,
      detail: `${seconds(watched.ms)}; ${region}`,
    },
    {
      name: 'episodes and boards derived again from the cases',
      ratio: derivedMs / folded.ms,
      baseline: 'one whole fold of the boards',
      aim: 100,
      detail: `${derived}; a whole fold ${seconds(folded.ms)}`,
    },
  ];
}

/** Platforms, and cases to ask about, drawn the same in every run of a region. */
async function factsOf(bare, orgId) {
  const platforms = (await bare.query('select id from platform where org_id = $1 order by code', [orgId])).rows.map(({ id }) => id);
  const cases = (
    await bare.query(
      `select case_id as id from case_signature where org_id = $1 and opened_at > '2026-01-01' order by md5(case_id::text) limit ${ROUNDS + WARM_UP}`,
      [orgId],
    )
  ).rows.map(({ id }) => id);
  return { platforms, cases };
}

async function curves(casebook, bare, actor, { platforms }) {
  const platform = (i) => platforms[(i * 7) % platforms.length];
  // As the API does after the first request of an organisation.
  const ahead = await timed(() => casebook.outcomes.readAhead(actor.orgId));
  log(`episodes read ahead: ${ahead.ms.toFixed(0)} ms`);
  const times = await inTurns(
    async (i) => JSON.stringify(await casebook.outcomes.returnRates(actor, { platformId: platform(i) })),
    (i) =>
      bare.query({
        name: 'bare.curve',
        text: 'select fault, intent, started_on, action from episode where org_id = $1 and platform_id = $2',
        values: [actor.orgId, platform(i)],
      }),
  );
  return linesOf('return curve of a platform', times, {
    baseline: 'bare pg: the rows of the platform from the same index',
    aim: 2,
    barMs: 60,
  });
}

async function boards(casebook, bare, actor) {
  const times = await inTurns(
    async () => JSON.stringify(await casebook.boards.recurrences(actor, {})),
    () =>
      bare.query({
        name: 'bare.board',
        text: `select platform_id, fault, intent, count(*), count(*) filter (where get_byte(record, 4) & 7 between 1 and 4)
                 from episode where org_id = $1 group by platform_id, fault, intent`,
        values: [actor.orgId],
      }),
  );
  return linesOf('region board', times, { baseline: 'bare pg: raw counts of every cell by an index-only scan', aim: 1, barMs: 150 });
}

async function similar(casebook, bare, actor, { cases }) {
  // As the API does after the first request of an organisation.
  const ahead = await timed(() => casebook.history.readAhead(actor.orgId));
  log(`cases read ahead: ${ahead.ms.toFixed(0)} ms`);
  // The signatures of a layout are read once; what that costs the one who asks first is told beside the rest.
  const first = await timed(() => casebook.history.similarToCase(actor, cases[0], FOUND));
  for (const id of cases.slice(0, FOUND)) await casebook.history.similarToCase(actor, id, FOUND);
  const times = await inTurns(
    async (i) => JSON.stringify(await casebook.history.similarToCase(actor, cases[i], FOUND)),
    (i) =>
      bare.query({
        name: 'bare.similar',
        text: `select s.case_id, s.values from case_signature s join case_signature a on a.org_id = s.org_id and a.case_id = $2
                where s.org_id = $1 and s.version = a.version and s.layout = a.layout and s.leading_fault = a.leading_fault
                order by s.opened_at desc limit 5000`,
        values: [actor.orgId, cases[i]],
      }),
  );
  return [
    ...linesOf(`similar cases (the first question of a layout: ${first.ms.toFixed(0)} ms)`, times, {
      baseline: 'bare pg: 5,000 signatures of the layout and leading fault',
      aim: 2,
      barMs: 50,
    }),
    await recall(casebook, bare, actor, cases.slice(0, FOUND)),
  ];
}

/** Share of the twenty nearest of ALL cases of the layout that are among the twenty that are shown. */
async function recall(casebook, bare, actor, cases) {
  const { signatureDistance } = await import('../../dist/libs/casebook/history/likeness.js');
  let hits = 0;
  let wanted = 0;
  const layouts = new Map();
  for (const id of cases) {
    const { rows } = await bare.query('select version, layout, values from case_signature where org_id = $1 and case_id = $2', [
      actor.orgId,
      id,
    ]);
    const [own] = rows;
    layouts.set(own.layout, [...(layouts.get(own.layout) ?? []), { id, ...own }]);
  }
  for (const [layout, askedCases] of layouts) {
    const all = (
      await bare.query('select case_id as id, values from case_signature where org_id = $1 and version = $2 and layout = $3', [
        actor.orgId,
        askedCases[0].version,
        layout,
      ])
    ).rows;
    for (const { id, values } of askedCases) {
      const needed = Math.max(2, Math.ceil(values.filter((value) => value !== null).length / 2));
      const distances = all.flatMap((row) => {
        const near = row.id === id ? null : signatureDistance(values, row.values, needed);
        return near ? [near.distance] : [];
      });
      const limit = Float64Array.from(distances).sort()[FOUND - 1] ?? Number.POSITIVE_INFINITY;
      const { data } = await casebook.history.similarToCase(actor, id, FOUND);
      hits += data.filter(({ distance }) => distance <= limit + 1e-9).length;
      wanted += Math.min(FOUND, distances.length);
    }
  }
  return {
    name: 'similar cases: nearest twenty of the whole layout that are found',
    ratio: hits / wanted,
    baseline: 'comparison with every case of the layout',
    aim: 0.95,
    better: 'more',
    detail: `${hits} of ${wanted} over ${cases.length} cases; simulated signatures`,
  };
}

async function patterns(casebook, bare, actor) {
  const times = await inTurns(
    async () => JSON.stringify(await casebook.patterns.patterns(actor, { include: 'all' })),
    () =>
      bare.query({
        name: 'bare.patterns',
        text: 'select document from pattern_score where org_id = $1 order by place',
        values: [actor.orgId],
      }),
  );
  return linesOf('recurring patterns from their stored scores', times, { baseline: 'bare pg: the stored documents', aim: 3, barMs: 100 });
}
