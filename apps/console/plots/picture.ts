/** What the sheet's rules give an element; a picture has no style sheet, so it takes them along. */
const CARRIED = [
  'fill',
  'fill-opacity',
  'stroke',
  'stroke-width',
  'stroke-opacity',
  'stroke-dasharray',
  'font-family',
  'font-size',
  'font-weight',
  'text-anchor',
  'color',
] as const;
/** Pixels of the picture for one of the drawing's units: enough for print at the size of a column. */
const PIXELS_PER_UNIT = 2;

/** Saves a drawing as PNG, as it stands on the screen, on the colour of the sheet it lies on. */
export async function savePicture(svg: SVGSVGElement, name: string): Promise<void> {
  const { width, height } = svg.viewBox.baseVal;
  const copy = svg.cloneNode(true) as SVGSVGElement;
  carryStyles(svg, copy);
  copy.setAttribute('xmlns', 'http://www.w3.org/2000/svg');
  copy.setAttribute('width', String(width));
  copy.setAttribute('height', String(height));
  const image = new Image();
  image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(new XMLSerializer().serializeToString(copy))}`;
  await image.decode();
  const canvas = document.createElement('canvas');
  canvas.width = width * PIXELS_PER_UNIT;
  canvas.height = height * PIXELS_PER_UNIT;
  const brush = canvas.getContext('2d')!;
  brush.fillStyle = sheetColour(svg);
  brush.fillRect(0, 0, canvas.width, canvas.height);
  brush.drawImage(image, 0, 0, canvas.width, canvas.height);
  const link = document.createElement('a');
  link.href = canvas.toDataURL('image/png');
  link.download = `${name}.png`;
  link.click();
}

function carryStyles(from: Element, to: Element): void {
  const computed = getComputedStyle(from);
  (to as SVGElement).style.cssText = CARRIED.map((property) => `${property}:${computed.getPropertyValue(property)}`).join(';');
  for (let i = 0; i < from.children.length; i++) carryStyles(from.children[i]!, to.children[i]!);
}

/** The first ancestor with a colour of its own. */
function sheetColour(element: Element): string {
  for (let at: Element | null = element; at !== null; at = at.parentElement) {
    const colour = getComputedStyle(at).backgroundColor;
    if (colour !== 'rgba(0, 0, 0, 0)') return colour;
  }
  return 'white';
}
