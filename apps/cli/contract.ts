import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { lexicographicSortSchema, printSchema } from 'graphql';
import { API_VERSION } from '#apps/api/docs/docs.js';
import { openApiDocument } from '#apps/api/http/openapi.js';
import { createServer } from '#apps/api/server.js';
import { openCasebook } from '#libs/casebook/index.js';
import { createPool } from '#libs/database/index.js';

/** Both descriptions of the interface, as text, exactly as the code makes them. Needs no database: the server is built but never asked. */
export async function contractDocuments(): Promise<{ readonly openApi: string; readonly sdl: string }> {
  const pool = createPool('postgresql://nobody@127.0.0.1:9/none', { max: 1 });
  const app = await createServer({ casebook: openCasebook(pool, Buffer.alloc(32)), pool, ratePerMinute: 1, logLevel: 'silent' });
  try {
    const { schema } = app.getHttpAdapter().getInstance().graphql;
    return {
      openApi: `${JSON.stringify(openApiDocument(API_VERSION), null, 2)}\n`,
      sdl: `${printSchema(lexicographicSortSchema(schema))}\n`,
    };
  } finally {
    await app.close();
    await pool.end();
  }
}

/** Writes `openapi.json` and `schema.graphql` into a folder. */
export async function writeContract(folder: string): Promise<void> {
  const { openApi, sdl } = await contractDocuments();
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, 'openapi.json'), openApi);
  writeFileSync(join(folder, 'schema.graphql'), sdl);
}

const [, script, folder] = process.argv;
if (script?.endsWith('contract.js') && folder) await writeContract(folder);
