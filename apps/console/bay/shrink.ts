/** What the server takes, less a little; see `MAX_PHOTOGRAPH_BYTES` of the contracts. */
const MAX_BYTES = 600 * 1024;
/** Longest side in pixels and JPEG quality, tried in turn until the picture is small enough. */
const STEPS = [
  [1_600, 0.8],
  [1_280, 0.7],
  [960, 0.6],
] as const;

/**
 * A photograph as this page sends it: turned upright, scaled down and coded again, in base64. Nothing of what a camera wrote beside the pixels
 * passes through a canvas. Null when the browser cannot read the file as a picture.
 */
export async function shrunk(file: Blob): Promise<string | null> {
  let picture: ImageBitmap;
  try {
    picture = await createImageBitmap(file, { imageOrientation: 'from-image' });
  } catch {
    return null;
  }
  const canvas = document.createElement('canvas');
  for (const [longest, quality] of STEPS) {
    const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    canvas.getContext('2d')!.drawImage(picture, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/jpeg', quality));
    if (blob && blob.size <= MAX_BYTES) return inBase64(blob);
  }
  return null;
}

function inBase64(blob: Blob): Promise<string> {
  return new Promise((done, fail) => {
    const reader = new FileReader();
    reader.onload = () => done(String(reader.result).split(',')[1]!);
    reader.onerror = () => fail(reader.error);
    reader.readAsDataURL(blob);
  });
}
