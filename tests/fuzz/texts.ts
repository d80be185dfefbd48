import { randomUUID } from 'node:crypto';
import type { Schema } from '../contract/compare.js';
import { withValueAt } from '../isolation/probes.js';
import { placesIn, schemaOf, valueAt } from './bodies.js';
import { ODD_TEXTS } from './odd-values.js';
import { type Answered, ask, faultOf, found, type Hostile, type Taking } from './world.js';

/** A place people write into: no word of a list, no identifier, day or code. */
const isText = ({ type, enum: words, format, pattern }: Schema): boolean =>
  [type].flat().includes('string') && words === undefined && format === undefined && pattern === undefined;

/** The example, with what stands around places it has nothing for: an order of its own, a finding. */
function bodyWith({ operation, body }: Taking, path: readonly string[]): unknown {
  if (operation.operationId !== 'openCase') return body;
  if (path[0] === 'source') return { ...(body as object), source: { system: 'fuzz', reference: randomUUID(), revision: 1 } };
  if (path[1] === 'findings') return withValueAt(body, ['evidence', 'findings'], [{ code: 'condenser-fins-clean' }]);
  return body;
}

/** Every string anywhere in a JSON value. */
function* stringsOf(value: unknown): Generator<string> {
  if (typeof value === 'string') yield value;
  else if (typeof value === 'object' && value !== null) for (const inner of Object.values(value)) yield* stringsOf(inner);
}

const sent = (hostile: Hostile, one: Taking, path: readonly string[], text: string): Promise<Answered> =>
  ask(hostile, one.method, one.path, one.headers, JSON.stringify(withValueAt(bodyWith(one, path), path, text)));

const says = ({ text }: Answered, wanted: string): boolean => text !== '' && [...stringsOf(JSON.parse(text))].includes(wanted);

export interface TextsTried {
  readonly faults: readonly string[];
  readonly asked: number;
  readonly taken: number;
  /** Operations and places whose answer does not say the text again. */
  readonly silent: readonly string[];
}

/** Every odd text in every place for text: refused at that place, or taken and said again letter by letter. `share` of the pairs, evenly. */
export async function oddTexts(hostile: Hostile, share: number): Promise<TextsTried> {
  const texts = [...ODD_TEXTS, 'x'.repeat(1_000_000), '\u{1f697}'.repeat(30)];
  const all = hostile.taking.flatMap((one) =>
    placesIn(schemaOf(one), hostile.document, isText)
      // Where the example has nothing around the place, what is missing there would be refused instead.
      .filter((path) => path.length === 1 || valueAt(bodyWith(one, path), path.slice(0, -1)) !== undefined)
      .flatMap((path) => texts.map((text) => ({ one, path, text }))),
  );
  const step = Math.max(1, Math.round(1 / share));
  const pairs = all.filter((_, i) => i % step === 0);
  const echoed = new Map<string, string>();
  const notEchoed = new Map<string, { readonly where: string; readonly one: Taking; readonly path: readonly string[] }>();
  let taken = 0;
  const faults = await found(pairs.length, async (n) => {
    const { one, path, text } = pairs[n]!;
    const pointer = `/${path.join('/')}`;
    const place = `${one.operation.operationId} ${pointer}`;
    const where = `${place} ${JSON.stringify(text.slice(0, 40))}`;
    const answered = await sent(hostile, one, path, text);
    const fault = faultOf(answered, Object.keys(one.operation.responses));
    if (fault) return `${where}: ${fault}`;
    if (answered.status < 300) {
      taken++;
      if (!text.isWellFormed() || text.includes('\u0000')) return `${where}: was taken`;
      if (says(answered, text)) echoed.set(place, text.slice(0, 40));
      else notEchoed.set(place, { where, one, path });
      return null;
    }
    const { errors } = JSON.parse(answered.text) as { errors: readonly { pointer: string }[] };
    // What cannot be JSON is refused as that; what is stored already, or is nowhere, is not a matter of the text.
    if ([400, 404, 409, 412, 413].includes(answered.status)) return null;
    return errors.some(
      (error) => error.pointer === pointer || error.pointer.startsWith(`${pointer}/`) || pointer.startsWith(`${error.pointer}/`),
    )
      ? null
      : `${where}: refused elsewhere: ${answered.text.slice(0, 300)}`;
  });
  // A place that says some texts again and not others has changed them; unless those it said were another's, of a rule that stands with every case, say:
  // a word that nobody else has sent tells.
  for (const [place, { where, one, path }] of notEchoed) {
    if (!echoed.has(place)) continue;
    const word = randomUUID().slice(0, 8);
    const answered = await sent(hostile, one, path, word);
    if (answered.status < 300 && !says(answered, word)) echoed.delete(place);
    else faults.push(`${where}: came back changed, ${JSON.stringify(echoed.get(place))} did not`);
  }
  return { faults, asked: pairs.length, taken, silent: [...notEchoed.keys()].filter((place) => !echoed.has(place)) };
}
