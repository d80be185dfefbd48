import { openCasebook } from '#libs/casebook/index.js';
import { createPool, openDatabase, serverSecret } from '#libs/database/index.js';

/** Founds an organisation and prints its first administrator key. Organisations do not create each other over the API. */
export async function organisationCommand(name: string, options: { readonly json?: boolean }): Promise<void> {
  const slug = name
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-|-$/g, '');
  if (slug === '') throw new Error('Give the organisation a name with at least one letter or digit.');
  const database = await openDatabase(process.env);
  const pool = createPool(database.appUrl, { max: 1 });
  try {
    const { orgId, secret } = await openCasebook(pool, serverSecret(process.env, database.directory)).access.foundOrganisation({
      name,
      slug,
      demo: false,
    });
    console.log(
      options.json
        ? JSON.stringify({ organisation: orgId, key: secret })
        : `organisation ${orgId}\nadministrator key (shown this once) ${secret}`,
    );
  } finally {
    await pool.end();
    await database.close();
  }
}
