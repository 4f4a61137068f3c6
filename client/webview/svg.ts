// Pieces of a drawing in the page.

type Attributes = Readonly<Record<string, string | number>>;

export function svg<Tag extends keyof SVGElementTagNameMap>(
  tag: Tag,
  attributes: Attributes = {},
  ...children: (Node | string)[]
): SVGElementTagNameMap[Tag] {
  const element = document.createElementNS('http://www.w3.org/2000/svg', tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

/** `M x y L x y …`, to a tenth of a pixel. */
export const lineThrough = (points: readonly (readonly [number, number])[]): string =>
  points.map(([x, y], k) => `${k === 0 ? 'M' : 'L'}${x.toFixed(1)} ${y.toFixed(1)}`).join('');
