/**
 * Columns of many rows as one parameter each, in the form in which the server sends and receives arrays in binary (PostgreSQL source,
 * `array_recv` in utils/adt/arrayfuncs.c). The driver sends a Buffer as it is; an array it would write as text, quoting and escaping every element, which the
 * server takes apart again: in a statement of 500 orders that costs more than storing them. A parameter must be cast to the very type of the function's name.
 */
const HEADER_BYTES = 20;
const LENGTH_BYTES = 4;
const NULL_LENGTH = -1;

/** Object identifiers of the element types: PostgreSQL catalogue, pg_type.dat. */
const OID = { bool: 16, bytea: 17, int4: 23, text: 25, float8: 701, uuid: 2950, jsonb: 3802 } as const;

type Nullable<T> = readonly (T | null)[];

function arrayOf<T>(
  oid: number,
  values: Nullable<T>,
  bytesOf: (value: T) => number,
  write: (buffer: Buffer, value: T, at: number) => void,
): Buffer {
  let size = HEADER_BYTES + values.length * LENGTH_BYTES;
  let hasNull = 0;
  const sizes = new Int32Array(values.length);
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (value === null) {
      sizes[i] = NULL_LENGTH;
      hasNull = 1;
    } else size += sizes[i] = bytesOf(value);
  }
  const buffer = Buffer.allocUnsafe(size);
  // Dimensions, whether there are nulls, element type; then the length of the one dimension and its lower bound.
  buffer.writeInt32BE(1, 0);
  buffer.writeInt32BE(hasNull, 4);
  buffer.writeInt32BE(oid, 8);
  buffer.writeInt32BE(values.length, 12);
  buffer.writeInt32BE(1, 16);
  let at = HEADER_BYTES;
  for (let i = 0; i < values.length; i++) {
    const bytes = sizes[i]!;
    buffer.writeInt32BE(bytes, at);
    at += LENGTH_BYTES;
    if (bytes === NULL_LENGTH) continue;
    write(buffer, values[i]!, at);
    at += bytes;
  }
  return buffer;
}

const utf8Bytes = (text: string): number => Buffer.byteLength(text);
const writeUtf8 = (buffer: Buffer, text: string, at: number): void => {
  buffer.write(text, at);
};

/** For `text[]`, and for whatever the statement casts each text to. */
export const textArray = (values: Nullable<string>): Buffer => arrayOf(OID.text, values, utf8Bytes, writeUtf8);

export const int4Array = (values: Nullable<number>): Buffer =>
  arrayOf(
    OID.int4,
    values,
    () => 4,
    (buffer, value, at) => buffer.writeInt32BE(value, at),
  );

export const float8Array = (values: Nullable<number>): Buffer =>
  arrayOf(
    OID.float8,
    values,
    () => 8,
    (buffer, value, at) => buffer.writeDoubleBE(value, at),
  );

export const boolArray = (values: Nullable<boolean>): Buffer =>
  arrayOf(
    OID.bool,
    values,
    () => 1,
    (buffer, value, at) => buffer.writeUInt8(value ? 1 : 0, at),
  );

export const byteaArray = (values: Nullable<Uint8Array>): Buffer =>
  arrayOf(
    OID.bytea,
    values,
    (value) => value.length,
    (buffer, value, at) => buffer.set(value, at),
  );

/** Of values as JSON.stringify writes them. */
export function jsonbArray(values: Nullable<string>): Buffer {
  return arrayOf(
    OID.jsonb,
    values,
    (text) => 1 + utf8Bytes(text),
    (buffer, text, at) => {
      buffer[at] = JSONB_VERSION;
      writeUtf8(buffer, text, at + 1);
    },
  );
}
const JSONB_VERSION = 1;

/** @throws TypeError for what is not a UUID. */
export const uuidArray = (values: Nullable<string>): Buffer => arrayOf(OID.uuid, values, () => 16, writeUuid);

const HYPHEN = 45;
const DIGITS = new Int8Array(128).fill(-1);
for (let digit = 0; digit < 16; digit++) {
  const text = digit.toString(16);
  DIGITS[text.charCodeAt(0)] = digit;
  DIGITS[text.toUpperCase().charCodeAt(0)] = digit;
}

function writeUuid(buffer: Buffer, text: string, at: number): void {
  let high = -1;
  let byte = at;
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i);
    if (code === HYPHEN) continue;
    const digit = DIGITS[code] ?? -1;
    if (digit < 0 || byte >= at + 16) throw new TypeError('an identifier must be a UUID');
    if (high < 0) high = digit;
    else {
      buffer[byte++] = (high << 4) | digit;
      high = -1;
    }
  }
  if (byte !== at + 16 || high >= 0) throw new TypeError('an identifier must be a UUID');
}
