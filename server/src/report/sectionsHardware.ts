// What a table cannot fix: how much room injectors, pump, cooling and knock limit leave, and the trouble codes.

import { limitOf } from '../formats/limits.js';
import { html, type Content, type Markup } from './html.js';
import type { Peaks, Report } from './model.js';
import { dataTable, headroomBar } from './parts.js';

interface Measure {
  readonly key: keyof Peaks;
  readonly title: string;
  readonly unit: string;
  readonly digits: number;
  readonly limit: number | undefined;
  readonly error: number | undefined;
  readonly from: string;
  readonly wants: string;
}

function measuresOf({ vehicle: { limits, injectors, engine } }: Report): readonly Measure[] {
  const of = (id: Parameters<typeof limitOf>[0]): { value: number; from: string } => limitOf(id, limits);
  const duty =
    injectors.maxDutyPercent === undefined || limits.injectorDutyPercent !== undefined
      ? of('injectorDutyPercent')
      : { value: injectors.maxDutyPercent, from: 'vehicle.json' };
  const from = (source: string): string => (source === 'default' ? 'default' : 'vehicle.json');
  const byLimit = (
    key: keyof Peaks,
    title: string,
    unit: string,
    digits: number,
    warning: { value: number; from: string },
    error: number | undefined,
    wants: string,
  ): Measure => ({ key, title, unit, digits, limit: warning.value, error, from: from(warning.from), wants });
  return [
    byLimit('dutyPercent', 'Injector duty', '%', 0, duty, Math.max(duty.value, of('injectorDutyErrorPercent').value), 'injector duty'),
    byLimit(
      'fuelPressureDropPercent',
      'Fuel pressure drop over the injector in a pull',
      '%',
      1,
      of('fuelPressureDropPercent'),
      of('fuelPressureDropErrorPercent').value,
      'fuel pressure and manifold pressure',
    ),
    byLimit('knockRetardDeg', 'Knock retard', '°', 1, of('knockRetardDeg'), of('knockRetardErrorDeg').value, 'knock retard'),
    byLimit('intakeAirC', 'Intake air in pulls', '°C', 0, of('intakeAirHotC'), of('intakeAirHotErrorC').value, 'intake air temperature'),
    byLimit('coolantC', 'Coolant', '°C', 0, of('coolantHotC'), of('coolantHotErrorC').value, 'coolant temperature'),
    { key: 'oilC', title: 'Oil', unit: '°C', digits: 0, limit: undefined, error: undefined, from: '', wants: 'oil temperature' },
    {
      key: 'manifoldPressureKPa',
      title: 'Manifold pressure',
      unit: 'kPa',
      digits: 0,
      limit: engine.maxManifoldPressureKPa,
      error: undefined,
      from: 'vehicle.json',
      wants: 'manifold pressure',
    },
    {
      key: 'rpm',
      title: 'Engine speed',
      unit: 'rpm',
      digits: 0,
      limit: engine.revLimitRpm,
      error: undefined,
      from: 'vehicle.json',
      wants: 'engine speed',
    },
  ];
}

export function hardwareSection(report: Report): Markup {
  const missing = (wants: string): string => {
    const never = wants.split(' and ').filter((title) => report.sessions.every(({ notLogged }) => notLogged.includes(title)));
    return never.length > 0 ? `${never.join(' and ')} not logged` : `no ${wants.includes(' and ') ? 'pull' : 'reading'} tells it`;
  };
  const rows = measuresOf(report).map(({ key, title, unit, digits, limit, error, from, wants }): { cells: Content[]; bad: boolean } => {
    const worst = report.sessions.reduce<{ value: number; file: string } | undefined>((best, { file, peaks }) => {
      const value = peaks[key];
      return value !== undefined && (!best || value > best.value) ? { value, file } : best;
    }, undefined);
    if (!worst)
      return {
        cells: [title, '—', limit === undefined ? '—' : `${limit} ${unit}`, '—', html`not known: ${missing(wants)}`, ''],
        bad: false,
      };
    const over = limit !== undefined && worst.value >= limit;
    const words =
      limit === undefined
        ? 'no limit is stated'
        : error !== undefined && worst.value >= error
          ? html`<span class="sign error">■ beyond the limit</span>`
          : over
            ? html`<span class="sign warning">▲ above the limit</span>`
            : html`<span class="sign good">● room left</span>`;
    const left = limit === undefined ? '—' : `${(limit - worst.value).toFixed(digits)} ${unit}`.replace('-', '−');
    return {
      cells: [
        title,
        `${worst.value.toFixed(digits)} ${unit}`,
        limit === undefined ? '—' : `${limit} ${unit} (${from})`,
        left,
        [words, html`<br><span class="file small">${worst.file}</span>`],
        limit !== undefined && headroomBar(worst.value, limit, `${title}: ${worst.value.toFixed(digits)} of ${limit} ${unit}`),
      ],
      bad: over,
    };
  });
  return dataTable(
    'Highest believed value of all sessions against its limit',
    [
      { head: '' },
      { head: 'Highest', number: true },
      { head: 'Limit', number: true },
      { head: 'Left', number: true },
      { head: 'What it means, where' },
      { head: 'Share used' },
    ].map((column, at) => (at === 0 ? { head: 'What' } : column)),
    rows.map(({ cells }) => cells),
    (row) => rows[row].bad,
  );
}

export function codesSection({ sessions }: Report): Markup {
  const rows = sessions.flatMap(({ file, codes }) =>
    codes.map(({ code, state, says, checkFirst }): Content[] => [
      code,
      html`<span class="file">${file}</span>`,
      state ?? 'not said',
      says,
      checkFirst,
    ]),
  );
  if (rows.length === 0)
    return html`<p>There is no trouble code in the sessions. Loggers that do not ask the engine computer for codes show none: that is not the same as none stored.</p>`;
  return dataTable(
    'Trouble codes in the sessions',
    [{ head: 'Code' }, { head: 'Session' }, { head: 'State' }, { head: 'Means' }, { head: 'Check first' }],
    rows,
  );
}
