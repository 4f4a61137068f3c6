// A short drive worked on before anybody waits: what goes over all rows of a session is compiled by then, and the first long session that
// is opened takes half the time.

import { bytesSource } from '../formats/source.js';
import { EMPTY_VEHICLE } from '../formats/vehicle/vehicle.js';
import { pullColumns, sampleLog, unrest } from '../findings/sampleLog.js';
import { workOnSession } from './sessionWork.js';

const SECONDS = 50,
  STEP_S = 0.02,
  ROUNDS = 6;
/** A pull of `pullColumns`; the way back from it takes as long. */
const PULL_S = 10;

/** About a third of a second of work. `between` is called between its pieces. */
export function warmUp(between: () => void): void {
  const isOpen = (timeS: number): number => Number(timeS > 2 && timeS < 8);
  const columns: typeof pulls = {
    ...pulls,
    lambda: (t) => 1 - 0.16 * isOpen(t) + unrest(t, 0.01),
    'knock retard (deg)': (t) => (t > 5 && t < 5.4 ? 2 : 0),
    'injector duty (%)': (t) => 30 + 50 * isOpen(t) + unrest(t, 1),
    'fuel pressure (kPa)': (t) => 300 + unrest(t, 2),
    'fuel cut': (t) => Number(t > 8.2 && t < 9.5),
    'ignition advance (deg)': (t) => 20 + unrest(t, 3),
    'coolant temperature (°C)': (t) => 85 + unrest(t / 50, 1),
    'intake air temperature (°C)': (t) => 25 + unrest(t / 50, 2),
    'battery voltage (V)': (t) => 14 + unrest(t, 0.05),
    'aux (V)': (t) => 2.5 + unrest(t, 0.4),
    // Somebody may wait before all rows are written.
    'vehicle speed (km/h)': (t) => {
      between();
      return 40 + 8 * t;
    },
  };
  const bytes = new TextEncoder().encode(thereAndBack(sampleLog(PULL_S, STEP_S, columns)));
  for (let round = 0; round < ROUNDS; round++)
    workOnSession({ own: bytesSource(bytes) }, { uri: 'file:///warm-up.session.csv', vehicle: EMPTY_VEHICLE, shows: true }, between)
      .show!();
}
const pulls = pullColumns();

/** A log's rows forth and back again and again: to write each anew would take as long as to read them. */
function thereAndBack(log: string): string {
  const [header, ...rows] = log.trimEnd().split('\n'),
    cells = rows.map((row) => row.slice(row.indexOf(','))),
    turn = 2 * cells.length;
  const rowAt = (at: number): string => `${(at * STEP_S).toFixed(2)}${cells[Math.min(at % turn, turn - 1 - (at % turn))]}`;
  return `${[header, ...Array.from({ length: Math.round(SECONDS / STEP_S) }, (_, at) => rowAt(at))].join('\n')}\n`;
}
