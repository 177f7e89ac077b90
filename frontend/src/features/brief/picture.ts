// A drawing as an image file.

const looks = [
  'fill',
  'fill-opacity',
  'stroke',
  'stroke-width',
  'stroke-dasharray',
  'stroke-linecap',
  'stroke-linejoin',
  'text-anchor',
  'paint-order',
  'font-weight'
];

/** The drawing with all that style sheets say written into it, and a title: it looks the same alone. */
export function alone(svg: SVGSVGElement, title: string, width: number): string {
  const copy = svg.cloneNode(true) as SVGSVGElement;
  const from = [svg, ...svg.querySelectorAll('*')];
  const to = [copy, ...copy.querySelectorAll('*')];
  from.forEach((element, i) => {
    const style = getComputedStyle(element);
    const target = to[i] as SVGElement;
    for (const look of looks) target.style.setProperty(look, style.getPropertyValue(look));
    target.removeAttribute('class');
  });
  for (const handle of copy.querySelectorAll('[role="button"]')) handle.remove();
  const { width: w, height: h } = svg.viewBox.baseVal;
  const text = document.createElementNS('http://www.w3.org/2000/svg', 'text');
  text.textContent = title;
  text.setAttribute('x', String(w / 50));
  text.setAttribute('y', String(Math.max(w, h) / 28));
  text.setAttribute('font-size', String(Math.max(w, h) / 34));
  text.setAttribute('fill', getComputedStyle(svg).color);
  copy.append(text);
  copy.setAttribute('width', String(width));
  copy.setAttribute('height', String(Math.round((width * h) / w)));
  copy.style.fontFamily = 'sans-serif';
  return new XMLSerializer().serializeToString(copy);
}

/** The same as PNG. */
export async function asPng(svg: SVGSVGElement, title: string, width = 1600): Promise<Blob> {
  const image = new Image();
  image.src = `data:image/svg+xml,${encodeURIComponent(alone(svg, title, width))}`;
  await image.decode();
  const canvas = document.createElement('canvas');
  canvas.width = image.width;
  canvas.height = image.height;
  canvas.getContext('2d')?.drawImage(image, 0, 0);
  return new Promise((done, fail) => {
    canvas.toBlob((blob) => (blob ? done(blob) : fail(new Error('This browser makes no picture of it.'))));
  });
}
