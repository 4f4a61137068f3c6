// Markup that nothing out of a file can break out of: whatever is put into an `html` text is escaped, unless `html` made it.

/** Finished markup. */
export class Markup {
  constructor(readonly text: string) {}
}

export type Content = Markup | string | number | undefined | false | readonly Content[];

/** HTML or SVG. Strings are escaped, lists joined, `undefined` and `false` are nothing. Attribute values must stand in double quotes. */
export function html(parts: TemplateStringsArray, ...contents: readonly Content[]): Markup {
  let text = parts[0];
  contents.forEach((content, i) => {
    text += textOf(content) + parts[i + 1];
  });
  return new Markup(text);
}

function textOf(content: Content): string {
  if (content instanceof Markup) return content.text;
  if (content === undefined || content === false) return '';
  if (typeof content === 'object') return content.map(textOf).join('');
  return escaped(String(content));
}

const ENTITIES: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };
/** Characters that no page may hold, and those that turn the direction of what follows. */
// eslint-disable-next-line no-control-regex
const UNWANTED = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069\ufffe\uffff]/g;

export const escaped = (text: string): string =>
  text
    .replace(/\p{Surrogate}/gu, '\ufffd')
    .replace(UNWANTED, '\ufffd')
    .replace(/[&<>"']/g, (character) => ENTITIES[character]);

/** A number for a drawing: a tenth of a pixel is enough. */
export const px = (value: number): string => String(Math.round(value * 10) / 10);
