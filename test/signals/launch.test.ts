// A car that waits at a line. Spark taken away or given after top dead centre leaves mixture unburnt, and what is unburnt has its oxygen
// still: a sensor reads λ above what was fuelled though no fuel is missing. An engine with nothing on its crankshaft and its throttle open
// gains thousands of rpm a second (torque over inertia), so one that is held is held by something: a limiter, or a converter, whose engine
// burns all it gets.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { weighSession } from '../../server/src/fueling/weigh.js';
import { analyse } from '../../server/src/signals/analyse.js';

interface Car {
  readonly advanceDeg?: number;
  readonly stands?: boolean;
  readonly over?: number;
  readonly isDriven?: boolean;
  readonly inTurns?: boolean;
  readonly openPercent?: number;
  /** By so much the engine gains speed meanwhile. */
  readonly rpmPerS?: number;
}

/** Each minute: driven for 45 s, idle, then 6 s at 4000 rpm with the throttle open. */
function drive({ advanceDeg, stands = true, over = 0.13, isDriven = true, inTurns = false, openPercent = 100, rpmPerS = 0 }: Car): string {
  const rows = [
    `Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Vehicle Speed (km/h),Coolant Temperature (°C),Target Lambda (λ),Lambda (λ)${advanceDeg === undefined ? '' : ',Ignition Advance (deg)'}`,
  ];
  for (let row = 0; row < 20 * 360; row++) {
    const timeS = row / 20,
      t = timeS % 60,
      isHeld = t >= 52 && t < 58,
      idles = t >= 45 && !isHeld,
      wave = Math.sin(row * 2.3);
    rows.push(
      [
        timeS.toFixed(2),
        (isHeld
          ? Math.min(4000, 900 + 3500 * (t - 52)) + rpmPerS * (t - 52) + 40 * wave
          : idles
            ? 850 + 8 * wave
            : 2400 + 500 * Math.sin(timeS / 6) + 5 * wave
        ).toFixed(0),
        (isHeld ? 97 : idles ? 34 : 55 + 8 * Math.sin(timeS / 3) + 0.3 * wave).toFixed(1),
        (isHeld ? openPercent : idles ? 1 : 18 + 3 * Math.sin(timeS / 3)).toFixed(1),
        isDriven ? (stands ? Math.max(0, Math.min(62, 16 * t, 16 * (45 - t))) : 62).toFixed(0) : '0',
        '88',
        isHeld ? '0.880' : '1.000',
        ((isHeld && t > 53 ? 0.88 + over : isHeld ? 0.88 : 1) + 0.004 * wave).toFixed(3),
        ...(advanceDeg === undefined
          ? []
          : [String(isHeld && t > (inTurns ? 52.2 : 52.8) && !(inTurns && row % 2 === 0) ? advanceDeg : idles ? 12 : 30)]),
      ].join(','),
    );
  }
  return `${rows.join('\n')}\n`;
}
const FUEL = readTable(
  '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,1500,2500,4000\n40,60,65,70\n70,65,70,75\n100,70,75,80\n',
);
const judged = (car: Car) => {
  const signals = analyse(readSession(textSource(drive(car))), EMPTY_VEHICLE),
    found = sessionFindings(signals);
  return {
    launch: found.filter(({ data }) => data?.kind === 'launch'),
    lean: found.filter(({ code }) => code === 'lean-under-load' || code === 'misfire-suspected'),
    pulls: signals.pulls.length,
    leftOut: weighSession(signals, FUEL).weight.leftOut.launch ?? 0,
  };
};

// What burns behind the engine to keep its turbine up pulls nothing: fired after top dead centre, behind a closed throttle, under way.
test('a full manifold behind a closed throttle, fired late, is not lean; with the spark where it pulls it is, and so with the throttle open', () => {
  const rolling = { stands: false, over: 0.13 },
    lean = (car: Car): boolean => judged({ ...rolling, ...car }).lean.length > 0;
  assert.deepEqual(
    [
      lean({ openPercent: 0, advanceDeg: -20 }),
      lean({ openPercent: 0, advanceDeg: 14 }),
      lean({ openPercent: 0 }),
      lean({ openPercent: 100, advanceDeg: -20 }),
      // What gains speed is pulled, by whatever a throttle lets through whose sensor came loose (mechanics).
      lean({ openPercent: 0, advanceDeg: -20, rpmPerS: 500 }),
    ],
    [false, true, true, true, true],
  );
  assert.ok(judged({ ...rolling, openPercent: 0, advanceDeg: -20 }).leftOut > 500);
});

suite('an engine held at a standstill with its throttle open', () => {
  test("with its ignition taken back is a launch limiter's: told once for information, not lean, and no evidence", () => {
    const { launch, lean, leftOut, pulls } = judged({ advanceDeg: -8 });
    assert.equal(pulls, 0);
    assert.deepEqual(
      launch.map(({ code, severity }) => [code, severity]),
      [['value-implausible', 'information']],
    );
    assert.match(launch[0].message, /held at 4000 rpm, its ignition at -8° .*5 times more.*launch limiter/);
    assert.deepEqual(lean, []);
    assert.ok(leftOut > 6 * 20 * 4, String(leftOut));
  });
  test('takes its ignition back in turns, and the angle told is the one that it is taken back to', () => {
    const { launch } = judged({ advanceDeg: -8, inTurns: true });
    assert.match(launch[0].message, /its ignition at -8° /);
  });
  test('without an ignition angle is lean as far as anybody knows, with what else it may be; and no evidence', () => {
    const { launch, lean, leftOut } = judged({});
    assert.deepEqual(launch, []);
    assert.ok(
      lean.length > 0 &&
        lean.every(
          ({ severity, message }) => severity === 'error' && /a launch limiter that takes the spark reads lean as well/.test(message),
        ),
    );
    assert.ok(leftOut > 6 * 20 * 4);
  });
  test('is lean without a doubt where the spark is where it belongs, where the car moves, and on a dynamometer, whose car stands', () => {
    for (const car of [{ advanceDeg: 24 }, { advanceDeg: -8, stands: false }, { isDriven: false }]) {
      const { launch, lean, leftOut, pulls } = judged(car);
      assert.equal(pulls, 6);
      assert.deepEqual([launch.length, leftOut], [0, 0], JSON.stringify(car));
      assert.ok(lean.length > 0 && lean.every(({ message }) => !/launch/.test(message)), JSON.stringify(car));
    }
  });
});
