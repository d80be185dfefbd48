import { openCasebook } from '#libs/casebook/index.js';
import { Role } from '#libs/contracts/index.js';
import { createPool, openDatabase, serverSecret } from '#libs/database/index.js';
import { issueRoleKeys } from './start.js';

interface KeyOptions {
  readonly organisation: string;
  readonly role: string;
  readonly name: string;
  readonly json?: boolean;
}

export async function keyCommand(options: KeyOptions): Promise<void> {
  const role = Role.safeParse(options.role);
  if (!role.success) throw new Error(`--role must be one of ${Role.options.join(', ')}.`);
  const database = await openDatabase(process.env);
  const pool = createPool(database.appUrl, { max: 1 });
  try {
    const casebook = openCasebook(pool, serverSecret(process.env, database.directory));
    const keys = await issueRoleKeys(casebook, options.organisation, [role.data], options.name);
    const secret = keys[role.data]!;
    console.log(options.json ? JSON.stringify({ organisation: options.organisation, role: role.data, key: secret }) : secret);
  } finally {
    await pool.end();
    await database.close();
  }
}
