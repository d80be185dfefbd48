import { chmodSync, existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';

/** Keys this installation issued to its owner at the first start, kept readable by that account alone, so that a later start can show them again. */
const KeyFile = z.object({
  demo: z.object({ orgId: z.string(), keys: z.record(z.string(), z.string()) }).optional(),
  home: z.object({ orgId: z.string(), keys: z.record(z.string(), z.string()) }).optional(),
});
export type KeyFile = z.infer<typeof KeyFile>;

const NAME = 'first-keys.json';

export function readKeyFile(directory: string): KeyFile {
  const path = join(directory, NAME);
  return existsSync(path) ? KeyFile.parse(JSON.parse(readFileSync(path, 'utf8'))) : {};
}

export function writeKeyFile(directory: string, content: KeyFile): void {
  const path = join(directory, NAME);
  writeFileSync(path, `${JSON.stringify(content, null, 2)}\n`, { mode: 0o600 });
  chmodSync(path, 0o600);
}
