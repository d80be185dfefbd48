import { MalformedJson, parseIJson } from '#libs/casebook/index.js';

/** A request body as its JSON value. @throws MalformedJson naming the place as a JSON pointer. */
export function parseJsonBody(bytes: Buffer): unknown {
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    throw new MalformedJson('it is not valid UTF-8.');
  }
  return parseIJson(text);
}
