import { MAX_PHOTOGRAPH_SIDE_PX, type PhotographType } from '#libs/contracts/index.js';

/** A picture without what it says about camera, place and people. */
export interface CleanPicture {
  readonly mediaType: PhotographType;
  readonly bytes: Buffer;
  readonly widthPx: number;
  readonly heightPx: number;
}

type Cleaned = Omit<CleanPicture, 'mediaType'>;

/**
 * What kind of picture the bytes are, by their own structure and never by what a sender calls them, written again from the parts that are needed
 * to show it: metadata, previews and whatever stands after the end are left out. Walks the whole file: what does not end as its format says is no
 * picture. Pixels are not touched, so a rotation noted beside them is lost (the console turns a picture before it sends it), and an animation
 * keeps its first picture (PNG) or is refused (WebP).
 * Null for anything else. JPEG: ITU-T T.81 annex B, JFIF 1.02; PNG: W3C PNG third edition; WebP: RFC 9649.
 */
export function cleanPicture(bytes: Buffer): CleanPicture | null {
  const [mediaType, cleaned] =
    bytes.length > 12 && bytes.readUInt16BE(0) === 0xffd8
      ? (['image/jpeg', cleanJpeg(bytes)] as const)
      : bytes.subarray(0, 8).equals(PNG_SIGNATURE)
        ? (['image/png', cleanPng(bytes)] as const)
        : bytes.toString('latin1', 0, 4) === 'RIFF' && bytes.toString('latin1', 8, 12) === 'WEBP'
          ? (['image/webp', cleanWebp(bytes)] as const)
          : ([null, null] as const);
  if (mediaType === null || cleaned === null) return null;
  const fits = (side: number) => side >= 1 && side <= MAX_PHOTOGRAPH_SIDE_PX;
  return fits(cleaned.widthPx) && fits(cleaned.heightPx) ? { mediaType, ...cleaned } : null;
}

const SOS = 0xda;
const EOI = 0xd9;
const APP0 = 0xe0;
const APP14 = 0xee;
const COMMENT = 0xfe;
/** Frame headers SOF0 to SOF15 but for the tables that share their range: DHT, JPG, DAC. */
const isFrame = (marker: number) => marker >= 0xc0 && marker <= 0xcf && marker !== 0xc4 && marker !== 0xc8 && marker !== 0xcc;
/** JFIF 1.01, square pixels, no preview. */
const PLAIN_JFIF = Buffer.from([0xff, APP0, 0, 16, 0x4a, 0x46, 0x49, 0x46, 0, 1, 1, 0, 0, 1, 0, 1, 0, 0]);

/** Segments up to the end of the image. Null when a segment is cut, there is no frame or scan, or no end. */
function cleanJpeg(bytes: Buffer): Cleaned | null {
  const kept: Buffer[] = [bytes.subarray(0, 2)];
  let size: { widthPx: number; heightPx: number } | null = null;
  let at = 2;
  let scans = 0;
  while (at + 4 <= bytes.length) {
    if (bytes[at] !== 0xff) return null;
    const marker = bytes[at + 1]!;
    if (marker === 0xff) {
      at++;
      continue;
    }
    const end = at + 2 + bytes.readUInt16BE(at + 2);
    if (end < at + 4 || end > bytes.length) return null;
    const segment = bytes.subarray(at, end);
    if (marker === APP0) {
      if (kept.length === 1) kept.push(PLAIN_JFIF);
    } else if (marker === APP14) {
      // Says how colours are coded; anything after its twelve bytes is not of it.
      if (segment.toString('latin1', 4, 9) === 'Adobe' && segment.length >= 16)
        kept.push(Buffer.from([0xff, APP14, 0, 14]), segment.subarray(4, 16));
    } else if (marker !== COMMENT && (marker < 0xe0 || marker > 0xef)) kept.push(segment);
    if (isFrame(marker)) {
      if (segment.length < 9) return null;
      size = { heightPx: segment.readUInt16BE(5), widthPx: segment.readUInt16BE(7) };
    }
    at = end;
    if (marker !== SOS) continue;
    scans++;
    const from = at;
    at = endOfScan(bytes, from);
    kept.push(bytes.subarray(from, at));
    if (at + 1 >= bytes.length) return null;
    if (bytes[at + 1] === EOI) return scans > 0 && size ? { ...size, bytes: Buffer.concat([...kept, bytes.subarray(at, at + 2)]) } : null;
  }
  return null;
}

/** Entropy-coded data ends at a marker: a 0xff in it is followed by a stuffed zero or is a restart. */
function endOfScan(bytes: Buffer, from: number): number {
  for (let at = bytes.indexOf(0xff, from); at >= 0 && at + 1 < bytes.length; at = bytes.indexOf(0xff, at + 1)) {
    const next = bytes[at + 1]!;
    if (next !== 0 && !(next >= 0xd0 && next <= 0xd7)) return at;
  }
  return bytes.length;
}

const PNG_SIGNATURE = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);
/** Chunks that are needed to show the picture as meant; texts, times, profiles and EXIF are not among them. */
const KEPT_CHUNKS = ['IHDR', 'PLTE', 'IDAT', 'IEND', 'tRNS', 'gAMA', 'cHRM', 'sRGB', 'sBIT'];

function cleanPng(bytes: Buffer): Cleaned | null {
  const kept: Buffer[] = [PNG_SIGNATURE];
  let size: { widthPx: number; heightPx: number } | null = null;
  let drawn = false;
  let at = 8;
  while (at + 12 <= bytes.length) {
    const length = bytes.readUInt32BE(at);
    const end = at + 12 + length;
    const type = bytes.toString('latin1', at + 4, at + 8);
    if (end > bytes.length || (size === null) !== (type === 'IHDR')) return null;
    if (type === 'IHDR') {
      if (length !== 13) return null;
      size = { widthPx: bytes.readUInt32BE(at + 8), heightPx: bytes.readUInt32BE(at + 12) };
    }
    if (type === 'IDAT') drawn = true;
    if (KEPT_CHUNKS.includes(type)) kept.push(bytes.subarray(at, end));
    if (type === 'IEND') return size && drawn && length === 0 ? { ...size, bytes: Buffer.concat(kept) } : null;
    at = end;
  }
  return null;
}

const KEPT_WEBP = ['VP8 ', 'VP8L', 'ALPH'];
const ALPHA_FLAG = 0b0001_0000;

function cleanWebp(bytes: Buffer): Cleaned | null {
  const length = 8 + bytes.readUInt32LE(4);
  if (length > bytes.length) return null;
  const kept: Buffer[] = [];
  let size: { widthPx: number; heightPx: number } | null = null;
  let canvas: Buffer | null = null;
  let at = 12;
  while (at + 8 <= length) {
    const type = bytes.toString('latin1', at, at + 4);
    const long = bytes.readUInt32LE(at + 4);
    const end = at + 8 + long + (long % 2);
    if (end > length) return null;
    const body = bytes.subarray(at + 8, at + 8 + long);
    if (type === 'VP8X') {
      if (long !== 10 || kept.length > 0) return null;
      const chunk = Buffer.from(bytes.subarray(at, end));
      // Profiles, EXIF, XMP and animation are announced here, and are not kept.
      chunk[8] = chunk[8]! & ALPHA_FLAG;
      canvas = body;
      kept.push(chunk);
    } else if (KEPT_WEBP.includes(type)) kept.push(bytes.subarray(at, end));
    if (type === 'VP8 ' || type === 'VP8L') {
      if (size !== null) return null;
      size = type === 'VP8 ' ? sizeOfVp8(body) : sizeOfVp8l(body);
      if (size === null) return null;
    }
    at = end;
  }
  if (size === null || at !== length) return null;
  // Of a still picture the canvas is the picture.
  if (canvas && (canvas.readUIntLE(4, 3) + 1 !== size.widthPx || canvas.readUIntLE(7, 3) + 1 !== size.heightPx)) return null;
  const body = Buffer.concat(kept);
  const head = Buffer.alloc(12);
  head.write('RIFF', 0, 'latin1');
  head.writeUInt32LE(4 + body.length, 4);
  head.write('WEBP', 8, 'latin1');
  return { ...size, bytes: Buffer.concat([head, body]) };
}

/** Frame header of RFC 6386 section 9.1: three bytes, a start code, two times fourteen bits. */
function sizeOfVp8(body: Buffer): { widthPx: number; heightPx: number } | null {
  if (body.length < 10 || body.readUIntBE(3, 3) !== 0x9d012a) return null;
  return { widthPx: body.readUInt16LE(6) & 0x3fff, heightPx: body.readUInt16LE(8) & 0x3fff };
}

/** Header of the lossless format, RFC 9649 section 3.4: a signature, then two times fourteen bits, one less each. */
function sizeOfVp8l(body: Buffer): { widthPx: number; heightPx: number } | null {
  if (body.length < 5 || body[0] !== 0x2f) return null;
  const bits = body.readUInt32LE(1);
  return { widthPx: (bits & 0x3fff) + 1, heightPx: ((bits >>> 14) & 0x3fff) + 1 };
}
