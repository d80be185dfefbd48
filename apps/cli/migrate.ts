import { openDatabase } from '#libs/database/index.js';

export async function migrateCommand(): Promise<void> {
  const database = await openDatabase(process.env, (line) => console.log(line));
  console.log('The database is at this version.');
  await database.close();
}
