import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { cleanPicture } from './picture.js';

/** Sixteen by twelve pixels, coded by a browser. */
const JPEG = Buffer.from(
  '/9j/4AAQSkZJRgABAQAAAQABAAD/2wBDABQODxIPDRQSEBIXFRQYHjIhHhwcHj0sLiQySUBMS0dARkVQWnNiUFVtVkVGZIhlbXd7gYKBTmCNl4x9lnN+gXz/2wBDARUXFx4aHjshITt8U0ZTfHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHz/wAARCAAMABADASIAAhEBAxEB/8QAFQABAQAAAAAAAAAAAAAAAAAAAAT/xAAcEAACAgMBAQAAAAAAAAAAAAACEQESAAMEMYH/xAAUAQEAAAAAAAAAAAAAAAAAAAAB/8QAGhEAAgMBAQAAAAAAAAAAAAAAERIAAiETUf/aAAwDAQACEQMRAD8Ag4eYOm95KKpL7ju5g5qUkps2/mThsPW6GQv1SsHsPYrmRLxy8Ev0Y55FqoBs/9k=',
  'base64',
);
const PNG = Buffer.from(
  'iVBORw0KGgoAAAANSUhEUgAAABAAAAAMCAYAAABr5z2BAAAAQklEQVR4AdyQsQ0AIAgEP6zECqygQzqDKziT9l9gAQkJJFfQ/F9e1MaNIAhefsCyAw8Wzjfght/f0WBuhQdvUr/BAwAA//8mxOYxAAAABklEQVQDAEEANMnMWN3VAAAAAElFTkSuQmCC',
  'base64',
);
const WEBP = Buffer.from(
  'UklGRmgAAABXRUJQVlA4WAoAAAAAAAAADwAACwAAVlA4IEoAAADwAQCdASoQAAwAA4BaJbACdH8AFXfk/AAA/ujtNzngDvckXyzS/vZe0gSJ/7yL99I1Fg8eOO567SZKzhPf2ph8V4Yitb2nOvq4AA==',
  'base64',
);
const SECRET = 'GPS 40.4168 -3.7038, taken by somebody';

const segment = (marker: number, body: Buffer) => {
  const head = Buffer.from([0xff, marker, 0, 0]);
  head.writeUInt16BE(body.length + 2, 2);
  return Buffer.concat([head, body]);
};
const chunk = (type: string, body: Buffer) => {
  const head = Buffer.alloc(8);
  head.writeUInt32BE(body.length, 0);
  head.write(type, 4, 'latin1');
  return Buffer.concat([head, body, Buffer.alloc(4)]);
};
const riff = (chunks: readonly Buffer[]) => {
  const head = Buffer.from('RIFF____WEBP', 'latin1');
  head.writeUInt32LE(4 + chunks.reduce((sum, { length }) => sum + length, 0), 4);
  return Buffer.concat([head, ...chunks]);
};
const part = (type: string, body: Buffer) => {
  const head = Buffer.alloc(8);
  head.write(type, 0, 'latin1');
  head.writeUInt32LE(body.length, 4);
  return Buffer.concat([head, body, Buffer.alloc(body.length % 2)]);
};

describe('a picture', () => {
  it.each([
    ['image/jpeg', JPEG],
    ['image/png', PNG],
    ['image/webp', WEBP],
  ] as const)('%s without metadata stays as it is, to the byte, with its size', (mediaType, bytes) => {
    expect(cleanPicture(bytes)).toEqual({ mediaType, bytes, widthPx: 16, heightPx: 12 });
  });

  it('loses Exif, comments, profiles, vendor segments, previews and what stands behind its end (JPEG)', () => {
    const text = Buffer.from(SECRET);
    const preview = segment(0xe0, Buffer.concat([Buffer.from('JFXX\0\x10', 'latin1'), text]));
    const carried = [
      segment(0xe1, Buffer.concat([Buffer.from('Exif\0\0', 'latin1'), text])),
      segment(0xe2, text),
      segment(0xed, text),
      segment(0xfe, text),
      preview,
    ];
    const from = JPEG.subarray(0, 20);
    const dirty = Buffer.concat([from, ...carried, JPEG.subarray(20), text]);
    expect(cleanPicture(dirty)!.bytes).toEqual(JPEG);
    // A JFIF header keeps no preview of its own.
    const withPreview = Buffer.concat([
      from.subarray(0, 2),
      segment(0xe0, Buffer.concat([from.subarray(6, 18), Buffer.from([1, 1, 9, 9, 9])])),
    ]);
    expect(cleanPicture(Buffer.concat([withPreview, JPEG.subarray(20)]))!.bytes).toEqual(JPEG);
  });

  it('loses texts, times, Exif and what stands behind its end (PNG)', () => {
    const carried = ['tEXt', 'iTXt', 'eXIf', 'tIME', 'iCCP'].map((type) => chunk(type, Buffer.from(SECRET)));
    const dirty = Buffer.concat([PNG.subarray(0, 33), ...carried, PNG.subarray(33), Buffer.from(SECRET)]);
    expect(cleanPicture(dirty)!.bytes).toEqual(PNG);
  });

  it('loses Exif, XMP and profile, and no longer announces them (WebP)', () => {
    const canvas = Buffer.from(WEBP.subarray(20, 30));
    canvas[0] = 0b0010_1100;
    const picture = WEBP.subarray(30);
    const dirty = riff([
      part('VP8X', canvas),
      part('ICCP', Buffer.from(SECRET)),
      picture,
      part('EXIF', Buffer.from(SECRET)),
      part('XMP ', Buffer.from(SECRET)),
    ]);
    expect(cleanPicture(dirty)!.bytes).toEqual(WEBP);
  });

  it.each([
    ['a page', Buffer.from('<!doctype html><script>alert(1)</script>')],
    ['a drawing that can hold scripts', Buffer.from('<svg xmlns="http://www.w3.org/2000/svg"/>')],
    ['a page behind the first bytes of a picture', Buffer.concat([JPEG.subarray(0, 20), Buffer.from('<script>alert(1)</script>')])],
    ['a picture that was cut', JPEG.subarray(0, 300)],
    ['a PNG without an end', PNG.subarray(0, PNG.length - 12)],
    ['a WebP that says it is longer', WEBP.subarray(0, WEBP.length - 2)],
    [
      'an animation',
      riff([part('VP8X', Buffer.from([2, 0, 0, 0, 15, 0, 0, 11, 0, 0])), part('ANIM', Buffer.alloc(6)), part('ANMF', Buffer.alloc(16))]),
    ],
    ['nothing', Buffer.alloc(0)],
  ])('is not %s', (_, bytes) => {
    expect(cleanPicture(bytes)).toBeNull();
  });

  it('is not one that unfolds beyond 4096 pixels a side', () => {
    const wide = Buffer.from(PNG);
    wide.writeUInt32BE(60_000, 16);
    expect(cleanPicture(wide)).toBeNull();
    const canvas = Buffer.from(WEBP);
    canvas.writeUIntLE(9_999, 24, 3);
    expect(cleanPicture(canvas)).toBeNull();
  });

  it('is answered for whatever the bytes, and cleaned once is clean', () => {
    const start = fc.constantFrom(JPEG, PNG, WEBP);
    fc.assert(
      fc.property(start, fc.nat(400), fc.uint8Array({ maxLength: 40 }), (picture, at, noise) => {
        const bytes = Buffer.concat([picture.subarray(0, at), noise, picture.subarray(at)]);
        const once = cleanPicture(bytes);
        if (once !== null) expect(cleanPicture(once.bytes)).toEqual(once);
      }),
      { numRuns: 600 },
    );
  });
});
