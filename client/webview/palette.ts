// Colours: the editor's theme for everything but the lines; the lines from the scale of Okabe and Ito (2008), which colour-blind readers
// can tell apart, in the order that stands out from the theme's background. Each line has a dash of its own as well.

export interface Palette {
  readonly foreground: string;
  readonly faint: string;
  readonly grid: string;
  readonly background: string;
  readonly accent: string;
  readonly lines: readonly string[];
  readonly severity: Readonly<Record<'error' | 'warning' | 'information' | 'hint', string>>;
  readonly font: string;
  readonly highContrast: boolean;
}

const OKABE_ITO = {
  orange: '#E69F00',
  skyBlue: '#56B4E9',
  green: '#009E73',
  yellow: '#F0E442',
  blue: '#0072B2',
  vermilion: '#D55E00',
  purple: '#CC79A7',
} as const;

/** Those with a contrast of at least 3 to the usual dark (#1f1f1f) and light (#ffffff) backgrounds. */
const ON_DARK = [OKABE_ITO.skyBlue, OKABE_ITO.orange, OKABE_ITO.green, OKABE_ITO.yellow, OKABE_ITO.purple, OKABE_ITO.vermilion];
const ON_LIGHT = [OKABE_ITO.blue, OKABE_ITO.vermilion, OKABE_ITO.green, OKABE_ITO.purple];

export function readPalette(): Palette {
  const style = getComputedStyle(document.documentElement);
  const { classList } = document.body;
  const light = classList.contains('vscode-light') || classList.contains('vscode-high-contrast-light');
  const highContrast = classList.contains('vscode-high-contrast') || classList.contains('vscode-high-contrast-light');
  const css = (name: string, otherwise: string): string => style.getPropertyValue(`--vscode-${name}`).trim() || otherwise;
  const foreground = css('editor-foreground', light ? '#222222' : '#dddddd');
  const background = css('editor-background', light ? '#ffffff' : '#1f1f1f');
  return {
    foreground,
    background,
    highContrast,
    faint: highContrast ? foreground : css('descriptionForeground', foreground),
    grid: highContrast ? mixed(foreground, background, 0.35) : mixed(foreground, background, 0.13),
    accent: highContrast ? css('contrastActiveBorder', foreground) : css('focusBorder', '#0072B2'),
    lines: light ? [...ON_LIGHT, foreground] : [...ON_DARK, foreground],
    severity: {
      error: css('editorError-foreground', light ? '#b01011' : '#f14c4c'),
      warning: css('editorWarning-foreground', light ? '#8a5a00' : '#cca700'),
      information: css('editorInfo-foreground', light ? '#1a5fb4' : '#3794ff'),
      hint: css('descriptionForeground', foreground),
    },
    font: `11px ${css('font-family', 'sans-serif')}`,
  };
}

/** `share` of one colour over another, where both are plain hex; else the first, see-through. */
function mixed(over: string, under: string, share: number): string {
  const [a, b] = [over, under].map((colour) =>
    /^#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})/i
      .exec(colour)
      ?.slice(1)
      .map((part) => parseInt(part, 16)),
  );
  if (!a || !b) return over;
  return `#${a
    .map((value, i) =>
      Math.round(value * share + b[i] * (1 - share))
        .toString(16)
        .padStart(2, '0'),
    )
    .join('')}`;
}

/** A colour let through to a part, for shading. */
export function shaded(colour: string, alpha: number): string {
  const hex = /^#([0-9a-f]{6})/i.exec(colour);
  return hex
    ? `#${hex[1]}${Math.round(alpha * 255)
        .toString(16)
        .padStart(2, '0')}`
    : colour;
}
