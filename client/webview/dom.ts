// The few words of DOM that the view is built with. Text goes in as text, never as markup.

type Attributes = Readonly<Record<string, string | number | boolean | undefined | ((event: never) => void)>>;

/** An element with attributes (`onclick` and the like are listeners, true is present, false and undefined absent) and children. */
export function el<Tag extends keyof HTMLElementTagNameMap>(tag: Tag, attributes: Attributes = {}, ...children: (Node | string)[]): HTMLElementTagNameMap[Tag] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === 'function') element.addEventListener(name.slice(2), value as EventListener);
    else if (value === true) element.setAttribute(name, '');
    else if (value !== false && value !== undefined) element.setAttribute(name, String(value));
  }
  element.append(...children);
  return element;
}

export const button = (label: string, onclick: () => void, attributes: Attributes = {}): HTMLButtonElement => el('button', { type: 'button', onclick, ...attributes }, label);

/** A button that shows a sign and says a word. */
export const signButton = (sign: string, label: string, onclick: () => void, attributes: Attributes = {}): HTMLButtonElement =>
  button(sign, onclick, { 'aria-label': label, title: label, class: 'sign', ...attributes });

/** Runs once per frame however often it is called; the newest call counts. */
export function perFrame<T extends unknown[]>(run: (...values: T) => void): (...values: T) => void {
  let waiting: T | undefined;
  return (...values) => {
    if (!waiting) requestAnimationFrame(() => {
      const now = waiting!;
      waiting = undefined;
      run(...now);
    });
    waiting = values;
  };
}

/** Runs after it has not been called for a while. */
export function afterQuiet<T extends unknown[]>(run: (...values: T) => void, quietMs: number): (...values: T) => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  return (...values) => {
    clearTimeout(timer);
    timer = setTimeout(() => run(...values), quietMs);
  };
}
