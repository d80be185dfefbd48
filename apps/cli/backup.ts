import { backup, dataDirectory, restore } from '#libs/database/index.js';

const say = (line: string) => console.error(line);

export async function backupCommand(target: string): Promise<void> {
  if (process.env['DATABASE_URL'])
    throw new Error('DATABASE_URL points to a server of yours: back it up with its own tools (pg_basebackup, pg_dump).');
  const report = await backup(dataDirectory(process.env), target, say);
  const rows = Object.values(report.verifiedRows).reduce((sum, count) => sum + count, 0);
  console.log(
    `${report.files} files, ${Math.round(report.bytes / 1e6)} MB in ${target}; a copy was started from it and holds ${rows} rows.`,
  );
}

export async function restoreCommand(source: string): Promise<void> {
  const rows = await restore(source, dataDirectory(process.env), say);
  console.log(
    `Restored ${Object.values(rows).reduce((sum, count) => sum + count, 0)} rows into ${dataDirectory(process.env)}. Start as usual.`,
  );
}
