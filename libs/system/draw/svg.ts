/** Ink and two signal tones of the drawings; a page may override them by CSS variables of these names. Lines also differ by dash and marker. */
export const TONE = {
  ink: 'var(--draw-ink, #22302f)',
  faint: 'var(--draw-faint, #9fb0ab)',
  ground: 'var(--draw-ground, #fbfaf6)',
  sound: 'var(--draw-sound, #1f7a6d)',
  seen: 'var(--draw-seen, #b4590a)',
} as const;
export const FONT = 'font-family="system-ui, sans-serif"';

export function escapeText(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');
}

export function text(
  x: number,
  y: number,
  content: string,
  size = 12,
  anchor: 'start' | 'middle' | 'end' = 'start',
  tone: string = TONE.ink,
): string {
  return `<text x="${at(x)}" y="${at(y)}" ${FONT} font-size="${size}" text-anchor="${anchor}" fill="${tone}">${escapeText(content)}</text>`;
}

export function polyline(points: readonly (readonly [number, number])[], tone: string, width: number, dash = ''): string {
  const list = points.map(([x, y]) => `${at(x)},${at(y)}`).join(' ');
  return `<polyline points="${list}" fill="none" stroke="${tone}" stroke-width="${width}" stroke-linejoin="round"${dash ? ` stroke-dasharray="${dash}"` : ''}/>`;
}

/** A coordinate to a tenth of a pixel. */
export function at(value: number): string {
  return (Math.round(value * 10) / 10).toString();
}

/** A complete picture: title and description are read out in its place. `id` must be unique on the page. */
export function picture(id: string, width: number, height: number, title: string, description: string, body: readonly string[]): string {
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-labelledby="${escapeText(id)}-t ${escapeText(id)}-d">`,
    `<title id="${escapeText(id)}-t">${escapeText(title)}</title>`,
    `<desc id="${escapeText(id)}-d">${escapeText(description)}</desc>`,
    `<rect width="${width}" height="${height}" fill="${TONE.ground}"/>`,
    ...body,
    '</svg>',
  ].join('');
}

/** Round tick values of an axis, about `count` of them. */
export function ticks(low: number, high: number, count: number): number[] {
  const raw = (high - low) / count;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 2.5, 5, 10].map((m) => m * power).find((s) => s >= raw) ?? 10 * power;
  const out: number[] = [];
  for (let v = Math.ceil(low / step) * step; v <= high + 1e-9 * step; v += step) out.push(Math.round(v / step) * step);
  return out;
}
