// The few words of DOM that the view is built with. Text goes in as text, never as markup.

type Attributes = Readonly<Record<string, string | number | boolean | undefined | ((event: never) => void)>>;

/** An element with attributes (`onclick` and the like are listeners, true is present, false and undefined absent) and children. */
export function el<Tag extends keyof HTMLElementTagNameMap>(
  tag: Tag,
  attributes: Attributes = {},
  ...children: (Node | string)[]
): HTMLElementTagNameMap[Tag] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === 'function') element.addEventListener(name.slice(2), value as EventListener);
    else if (value === true) element.setAttribute(name, '');
    else if (value !== false && value !== undefined) element.setAttribute(name, String(value));
  }
  element.append(...children);
  return element;
}

export const button = (label: string, onclick: () => void, attributes: Attributes = {}): HTMLButtonElement =>
  el('button', { type: 'button', onclick, ...attributes }, label);

/** A button that shows a sign and says a word. */
export const signButton = (sign: string, label: string, onclick: () => void, attributes: Attributes = {}): HTMLButtonElement =>
  button(sign, onclick, { 'aria-label': label, title: label, class: 'sign', ...attributes });

export type KeyPress = Pick<KeyboardEvent, 'key' | 'shiftKey' | 'altKey' | 'ctrlKey' | 'metaKey'>;

/**
 * `event.key`, letters small, with `Ctrl+`, `Alt+` and `Shift+` before it where they are held (Shift only of a key that is no letter or
 * sign).
 */
export function keyName({ key, shiftKey, altKey, ctrlKey, metaKey }: KeyPress): string {
  const plain = key.length === 1 ? key.toLowerCase() : key;
  return `${ctrlKey || metaKey ? 'Ctrl+' : ''}${altKey ? 'Alt+' : ''}${shiftKey && plain.length > 1 ? 'Shift+' : ''}${plain}`;
}

/** One of a few, as radio buttons in a row. */
export function choice<Value extends string>(
  name: string,
  label: string,
  values: readonly (readonly [Value, string])[],
  chosen: Value,
  choose: (value: Value) => void,
): HTMLFieldSetElement {
  return el(
    'fieldset',
    {},
    el('legend', { class: 'unseen' }, label),
    ...values.map(([value, words]) => {
      const radio = el('input', { type: 'radio', name, value, 'data-keep': value, onchange: () => choose(value) });
      radio.checked = value === chosen;
      return el('label', {}, radio, words);
    }),
  );
}

/** The list of keys, opened from the bar; each as it is shown and what it does. */
export function helpDialog(
  title: string,
  keys: readonly (readonly [shown: string, does: string])[],
  more: string,
  close: string,
): HTMLDialogElement {
  const dialog = el(
    'dialog',
    { 'aria-label': title },
    el('dl', {}, ...keys.flatMap(([shown, does]) => [el('dt', {}, el('kbd', {}, shown)), el('dd', {}, does)])),
    el('p', {}, more),
    button(close, () => dialog.close()),
  );
  return dialog;
}

/** Runs once per frame however often it is called; the newest call counts. */
export function perFrame<T extends unknown[]>(run: (...values: T) => void): (...values: T) => void {
  let waiting: T | undefined;
  return (...values) => {
    if (!waiting)
      requestAnimationFrame(() => {
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
