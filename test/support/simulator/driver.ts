// The person at the wheel, or at the dyno: a script drawn by chance that says at each step what the pedals, the clutch and the gear lever
// do.

import type { Car } from './cars.js';
import type { Random } from './random.js';

export type DriverStyle = 'street' | 'track' | 'dyno' | 'mixed';

export interface Controls {
  pedalPercent: number;
  /** 0 open, 1 closed. */
  clutch: number;
  /** 0 is neutral. */
  gear: number;
  brakeMps2: number;
  gradePercent: number;
  /** Engine speed that a dyno holds; undefined on the road. */
  dynoRpm: number | undefined;
}

/** What the driver sees. */
export interface Seen {
  timeS: number;
  speedRpm: number;
  speedMps: number;
}

export type EventKind = 'idle' | 'cruise' | 'pull' | 'lift' | 'gear-shift' | 'tip-in' | 'brake' | 'accelerate' | 'hold';
export interface DriveEvent {
  readonly kind: EventKind;
  readonly fromS: number;
  readonly toS: number;
  readonly gear: number;
}

/** A driver: call `next()` of the script once a step, with `seen` brought up to date before. */
export interface Driver {
  readonly controls: Controls;
  readonly seen: Seen;
  readonly events: DriveEvent[];
  readonly script: Iterator<void>;
}

export function driverOf(style: DriverStyle, car: Car, random: Random, dtS: number): Driver {
  const controls: Controls = { pedalPercent: 0, clutch: 0, gear: 0, brakeMps2: 0, gradePercent: 0, dynoRpm: undefined };
  const seen: Seen = { timeS: 0, speedRpm: 0, speedMps: 0 };
  const events: DriveEvent[] = [];
  const { gears, finalDrive, tyreRadiusM } = car.vehicle,
    limitRpm = car.revLimitRpm;
  const rpmAt = (gear: number, speedMps: number): number => ((speedMps / tyreRadiusM) * gears[gear - 1] * finalDrive * 30) / Math.PI;
  const gearFor = (speedMps: number, wantedRpm: number): number => {
    let best = 1;
    for (let gear = 1; gear <= gears.length; gear++)
      if (Math.abs(rpmAt(gear, speedMps) - wantedRpm) < Math.abs(rpmAt(best, speedMps) - wantedRpm)) best = gear;
    return best;
  };
  const toward = (now: number, goal: number, perS: number): number => now + Math.max(-perS * dtS, Math.min(perS * dtS, goal - now));

  function* during(kind: EventKind, body: Iterable<void>): Generator<void> {
    const fromS = seen.timeS;
    yield* body;
    if (seen.timeS - fromS > 0.05) events.push({ kind, fromS, toS: seen.timeS, gear: controls.gear });
  }
  function* wait(seconds: number): Generator<void> {
    for (const until = seen.timeS + seconds; seen.timeS < until;) yield;
  }
  function* shift(gear: number, pedalAfter: number): Generator<void> {
    if (gear === controls.gear) return;
    yield* during(
      'gear-shift',
      (function* () {
        const down = gear < controls.gear,
          slow = random.between(0.8, 1.5);
        for (const until = seen.timeS + 0.16 * slow; seen.timeS < until;) {
          controls.pedalPercent = toward(controls.pedalPercent, 0, 900);
          controls.clutch = toward(controls.clutch, 0, 9);
          yield;
        }
        controls.gear = gear;
        controls.clutch = 0;
        for (const until = seen.timeS + 0.14 * slow; seen.timeS < until;) {
          controls.pedalPercent = toward(controls.pedalPercent, down ? 25 : 0, 400);
          yield;
        }
        while (controls.clutch < 1) {
          controls.clutch = toward(controls.clutch, 1, 5 / slow);
          controls.pedalPercent = toward(controls.pedalPercent, pedalAfter * controls.clutch, 500);
          yield;
        }
      })(),
    );
  }
  function* idle(seconds: number): Generator<void> {
    yield* during(
      'idle',
      (function* () {
        controls.pedalPercent = 0;
        controls.clutch = 0;
        controls.gear = 0;
        controls.brakeMps2 = seen.speedMps > 0.2 ? 2 : 0;
        yield* wait(seconds);
      })(),
    );
  }
  function* launch(): Generator<void> {
    controls.gear = 1;
    controls.brakeMps2 = 0;
    const pedal = random.between(13, 22);
    for (const until = seen.timeS + 8; seen.timeS < until && controls.clutch < 1;) {
      controls.pedalPercent = toward(controls.pedalPercent, pedal, 50);
      // Slips the clutch so that the engine neither stalls nor flares, until the car has caught up.
      const caughtUp = rpmAt(1, seen.speedMps) > Math.max(1000, seen.speedRpm - 120);
      controls.clutch = toward(
        controls.clutch,
        caughtUp ? 1 : Math.max(0, Math.min(0.3, (seen.speedRpm - 1000) / 3000)),
        caughtUp ? 2 : 1.2,
      );
      yield;
    }
    controls.clutch = 1;
  }
  /** Part-throttle up to a speed, shifting up on the way. */
  function* accelerate(speedMps: number, pedal: number, shiftRpm: number): Generator<void> {
    if (seen.speedMps < 2) yield* launch();
    yield* during(
      'accelerate',
      (function* () {
        let wobble = 0;
        for (const until = seen.timeS + 40; seen.speedMps < speedMps && seen.timeS < until;) {
          wobble += (-wobble * 0.8 + ((9 * random.normal()) / Math.sqrt(dtS)) * 0.3) * dtS;
          controls.pedalPercent = toward(controls.pedalPercent, Math.max(4, Math.min(100, pedal + wobble)), 80);
          if (seen.speedRpm > shiftRpm && controls.gear < gears.length) yield* shift(controls.gear + 1, pedal);
          yield;
        }
      })(),
    );
  }
  /** Holds a speed on a road that rises and falls. */
  function* cruise(speedMps: number, seconds: number, wantedRpm: number): Generator<void> {
    const gear = gearFor(speedMps, wantedRpm);
    if (gear !== controls.gear) yield* shift(gear, 15);
    yield* during(
      'cruise',
      (function* () {
        let sum = controls.pedalPercent * 0.6,
          grade = controls.gradePercent;
        const hills = random.between(0.5, 3.5);
        let goal = random.normal() * hills,
          next = seen.timeS + random.between(3, 10);
        for (const until = seen.timeS + seconds; seen.timeS < until;) {
          if (seen.timeS > next) {
            goal = Math.max(-4, Math.min(7, random.normal() * hills + 0.5));
            next = seen.timeS + random.between(3, 10);
          }
          grade += (dtS / 2.5) * (goal - grade);
          controls.gradePercent = grade;
          const miss = speedMps - seen.speedMps;
          sum = Math.max(0, Math.min(80, sum + 1.2 * miss * dtS));
          controls.pedalPercent = toward(controls.pedalPercent, Math.max(0, Math.min(85, sum + 3.5 * miss)), 45);
          if (seen.speedRpm < 1300 && controls.gear > 1) yield* shift(controls.gear - 1, 30);
          yield;
        }
        controls.gradePercent = 0;
      })(),
    );
  }
  /** Full throttle from low speed through one gear or several. */
  function* pull(gearCount: number): Generator<void> {
    const topRpm = limitRpm * random.between(0.9, 0.97);
    for (let i = 0; i < gearCount; i++) {
      yield* during(
        'pull',
        (function* () {
          for (const until = seen.timeS + 25; seen.speedRpm < topRpm && seen.timeS < until;) {
            controls.pedalPercent = toward(controls.pedalPercent, 100, 600);
            yield;
          }
        })(),
      );
      if (i + 1 < gearCount && controls.gear < gears.length && seen.speedMps < 50) yield* shift(controls.gear + 1, 100);
      else break;
    }
  }
  function* lift(untilRpm: number): Generator<void> {
    yield* during(
      'lift',
      (function* () {
        for (const until = seen.timeS + 12; seen.speedRpm > untilRpm && seen.timeS < until;) {
          controls.pedalPercent = toward(controls.pedalPercent, 0, 500);
          yield;
        }
      })(),
    );
  }
  function* brake(speedMps: number): Generator<void> {
    yield* during(
      'brake',
      (function* () {
        const hard = random.between(1.5, 5);
        for (const until = seen.timeS + 30; seen.speedMps > speedMps && seen.timeS < until;) {
          controls.pedalPercent = toward(controls.pedalPercent, 0, 500);
          controls.brakeMps2 = hard;
          if (seen.speedRpm < 1150) controls.clutch = 0;
          yield;
        }
        controls.brakeMps2 = 0;
        if (controls.clutch < 1 && seen.speedMps > 3) {
          controls.gear = 0;
          yield* shift(gearFor(seen.speedMps, 2200), 8);
        }
      })(),
    );
  }
  function* tipIn(): Generator<void> {
    yield* during(
      'tip-in',
      (function* () {
        const pedal = random.between(25, 80);
        for (const until = seen.timeS + random.between(0.4, 1.5); seen.timeS < until && seen.speedRpm < limitRpm * 0.95;) {
          controls.pedalPercent = toward(controls.pedalPercent, pedal, 500);
          yield;
        }
      })(),
    );
  }

  function* streetLap(): Generator<void> {
    if (seen.speedMps > 26) yield* brake(14);
    yield* accelerate(random.between(9, 30), random.between(18, 45), random.between(0.38, 0.62) * limitRpm);
    for (let i = random.whole(1, 3); i > 0; i--) {
      yield* cruise(seen.speedMps + random.between(-2, 3), random.between(8, 28), random.between(1700, 3600));
      if (random.chance(0.45)) yield* tipIn();
      if (random.chance(0.35)) yield* lift(Math.max(1300, seen.speedRpm * 0.65));
    }
    if (random.chance(0.4) && seen.speedMps < 30) {
      yield* shift(Math.max(2, gearFor(seen.speedMps, 2600)), 30);
      yield* pull(random.whole(1, 2));
      yield* lift(2200);
    }
    if (random.chance(0.5)) {
      yield* brake(random.chance(0.5) ? 0.2 : random.between(6, 12));
      if (seen.speedMps < 1) yield* idle(random.between(4, 18));
    }
  }
  function* trackLap(): Generator<void> {
    if (seen.speedMps < 11) yield* accelerate(random.between(12, 18), 40, limitRpm * 0.65);
    yield* shift(Math.max(2, gearFor(seen.speedMps, random.between(2600, 4200))), 40);
    yield* pull(random.whole(1, 3));
    if (random.chance(0.7)) yield* brake(random.between(11, 22));
    else yield* lift(random.between(2200, 3500));
    if (random.chance(0.5)) yield* cruise(seen.speedMps + random.between(-1, 2), random.between(3, 10), random.between(2600, 5200));
    if (random.chance(0.4)) {
      yield* tipIn();
      yield* accelerate(seen.speedMps + random.between(2, 6), random.between(35, 75), limitRpm * 0.9);
    }
    if (random.chance(0.1)) {
      yield* brake(0.2);
      yield* idle(random.between(4, 10));
    }
  }
  function* onRoad(trackShare: number): Generator<void> {
    yield* idle(random.between(5, 14));
    for (;;) yield* random.chance(trackShare) ? trackLap() : streetLap();
  }
  function* dyno(): Generator<void> {
    yield* idle(5);
    controls.gear = 4;
    controls.clutch = 1;
    controls.dynoRpm = seen.speedRpm;
    const goTo = function* (rpm: number, pedal: number, seconds: number): Generator<void> {
      const fromRpm = controls.dynoRpm!,
        fromPedal = controls.pedalPercent;
      for (let t = 0; t < seconds; t += dtS) {
        controls.dynoRpm = fromRpm + ((rpm - fromRpm) * t) / seconds;
        controls.pedalPercent = fromPedal + ((pedal - fromPedal) * t) / seconds;
        yield;
      }
    };
    for (;;) {
      for (let i = random.whole(8, 14); i > 0; i--) {
        yield* goTo(
          random.between(1000, limitRpm * 0.9),
          random.chance(0.3) ? 100 : random.between(4, 16) ** 1.6,
          random.between(0.8, 1.6),
        );
        yield* during('hold', wait(random.between(2.5, 5)));
      }
      yield* goTo(1800, 6, 1.5);
      yield* goTo(1800, 100, 0.4);
      yield* during('pull', goTo(limitRpm * 0.96, 100, random.between(6, 10)));
      yield* goTo(1500, 3, 4);
    }
  }
  const script = style === 'dyno' ? dyno() : onRoad({ street: 0, track: 1, mixed: 0.5 }[style]);
  return { controls, seen, events, script };
}
