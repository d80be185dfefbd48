import { dataDirectory } from '#libs/database/index.js';
import { readKeyFile } from './key-file.js';

/** Which server a command talks to, and with what key. */
export interface ServerOptions {
  readonly url?: string;
  readonly key?: string;
}

export interface ServerAddress {
  readonly url: string;
  readonly key: string;
}

/** From the options, else from COOLBACK_URL and COOLBACK_KEY, else the server of this machine with the key of its first start. */
export function serverOf(options: ServerOptions, role: 'integrator' | 'administrator'): ServerAddress {
  const url = (options.url ?? process.env['COOLBACK_URL'] ?? 'http://127.0.0.1:4280').replace(/\/$/, '');
  const keys = options.key || process.env['COOLBACK_KEY'] ? null : readKeyFile(dataDirectory(process.env));
  const key = options.key ?? process.env['COOLBACK_KEY'] ?? (keys?.home ?? keys?.demo)?.keys[role];
  if (!key) throw new Error(`No key: give --key or COOLBACK_KEY (the ${role}'s key is printed at the first start).`);
  return { url, key };
}

interface ProblemBody {
  readonly detail?: string;
  readonly code?: string;
  readonly errors?: readonly { readonly pointer: string; readonly detail: string; readonly remedy: string | null }[];
}

/** The answer, or an error with everything the problem says. */
export async function answerOf(request: Promise<Response>, url: string): Promise<Response> {
  let response: Response;
  try {
    response = await request;
  } catch (error) {
    const reason = (error as { cause?: { code?: string } }).cause?.code ?? (error as Error).message;
    throw new Error(`${url} does not answer (${reason}). Is it running? Start it with "coolback start", or give --url.`);
  }
  if (response.ok) return response;
  const problem = (await response.json().catch(() => ({}))) as ProblemBody;
  const lines = (problem.errors ?? []).slice(0, 20).map((one) => `  ${one.pointer}: ${one.detail} ${one.remedy ?? ''}`.trimEnd());
  throw new Error([problem.detail ?? `${url} answered ${response.status}.`, ...lines].join('\n'));
}
