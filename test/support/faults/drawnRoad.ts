// The road part of a drawn drive: what the driver does, as throttle, gear, speed and engine speed. Made of habits and smoothing, no
// engine physics, so that it is unlike both the code under judgement and the simulated drives.

import type { Random } from './random.js';
import type { EngineState } from './recording.js';

export const STEP_S = 0.01;

/** One value a step of 0.01 s. */
export interface Road {
  readonly throttle: Float64Array;
  readonly gear: Float64Array;
  readonly speedKmH: Float64Array;
  readonly rpm: Float64Array;
  readonly cut: Uint8Array;
  readonly state: EngineState[];
}

export interface Driveline {
  readonly idleRpm: number;
  readonly limitRpm: number;
  readonly rpmPerKmH: readonly number[];
  readonly huntingRpm: number;
  readonly brisk: number;
}

export const drawDriveline = (random: Random): Driveline => {
  const length = random.between(0.85, 1.2);
  return {
    idleRpm: random.between(680, 980),
    limitRpm: random.between(5800, 7600),
    rpmPerKmH: [0, 128, 74, 51, 39, 31.5, 26].map((each) => each * length),
    huntingRpm: random.chance(0.3) ? random.between(30, 80) : random.between(3, 15),
    brisk: random.between(0.8, 1.4),
  };
};

/** A drive of the given length: start (cold or hot), town, road, pulls, overrun and stops in random order. */
export const drawRoad = (random: Random, line: Driveline, lengthS: number, start: 'off' | 'cold' | 'hot', closed: number): Road => {
  const steps = Math.round(lengthS / STEP_S);
  const throttle = new Float64Array(steps),
    gear = new Float64Array(steps),
    speedKmH = new Float64Array(steps),
    rpm = new Float64Array(steps);
  const cut = new Uint8Array(steps);
  const state = new Array<EngineState>(steps).fill('idle');
  let at = 0,
    nowThrottle = closed,
    nowGear = 0,
    nowSpeed = 0,
    nowRpm = 0,
    closedForS = 0,
    cutting = false,
    refuelledForS = 9,
    jiggle = 0,
    huntPhase = 0;
  const done = (): boolean => at >= steps;

  const put = (name: EngineState, wantThrottle: number, accelerationKmHS: number, engaged: boolean, quick = 0.12): void => {
    if (done()) return;
    nowThrottle += (wantThrottle - nowThrottle) * Math.min(1, STEP_S / quick);
    if (Math.abs(nowThrottle - wantThrottle) < 0.3) nowThrottle = wantThrottle;
    nowSpeed = Math.max(0, nowSpeed + accelerationKmHS * STEP_S);
    jiggle += -jiggle * 0.1 + random.normal() * 1.2;
    huntPhase += STEP_S * 2 * Math.PI * 0.55;
    const tied = nowSpeed * line.rpmPerKmH[nowGear];
    const wanted =
      engaged && nowGear > 0
        ? Math.max(tied, line.idleRpm * 0.95)
        : line.idleRpm + line.huntingRpm * Math.sin(huntPhase) + wantThrottle * 12;
    nowRpm += (wanted - nowRpm) * Math.min(1, STEP_S / (engaged && nowGear > 0 ? 0.07 : 0.28));
    const running = nowRpm > 400;
    closedForS = nowThrottle <= closed + 0.6 ? closedForS + STEP_S : 0;
    const wasCutting = cutting;
    cutting = running && (cutting ? closedForS > 0 && nowRpm > line.idleRpm + 350 : closedForS > 0.45 && nowRpm > line.idleRpm + 650);
    refuelledForS = wasCutting && !cutting ? 0 : refuelledForS + STEP_S;
    throttle[at] = nowThrottle;
    gear[at] = nowGear;
    speedKmH[at] = nowSpeed;
    rpm[at] = Math.max(0, nowRpm + (running ? jiggle : 0));
    cut[at] = cutting ? 1 : 0;
    state[at] = cutting ? 'overrun' : refuelledForS < 1.2 ? 'refuelling' : name;
    at += 1;
  };
  const hold = (seconds: number, each: (elapsedS: number) => void): void => {
    for (let t = 0; t < seconds && !done(); t += STEP_S) each(t);
  };

  const shiftTo = (next: number, back: number): void => {
    hold(random.between(0.08, 0.16), () => put('shift', closed, -2, true, 0.03));
    nowGear = next;
    hold(random.between(0.12, 0.35), () => put('shift', closed, -2, true, 0.03));
    hold(0.25, () => put('shift', back, 2, true, 0.08));
  };
  const accelerate = (toKmH: number, wantThrottle: number): void => {
    if (nowGear === 0) {
      nowGear = 1;
    }
    const shiftRpm = 2000 + wantThrottle * 35;
    const begin = at;
    while (!done() && nowSpeed < toKmH && at - begin < 4000) {
      const wobble = wantThrottle + 2 * Math.sin(at * 0.006);
      put(
        (at - begin) * STEP_S < 0.6 ? 'tip-in' : 'cruise',
        wobble,
        (0.22 * wantThrottle * line.brisk) / (0.5 + 0.3 * nowGear),
        true,
        0.15,
      );
      if (nowRpm > shiftRpm && nowGear < 6) shiftTo(nowGear + 1, wantThrottle);
    }
  };
  const cruise = (seconds: number): void => {
    const base = 9 + nowSpeed * 0.09 + closed,
      slow = random.between(0.2, 0.6),
      swing = random.between(1, 6),
      phase = random.between(0, 6);
    let drift = 0;
    hold(seconds, (t) => {
      drift += -drift * 0.004 + random.normal() * 0.03;
      put('cruise', base + swing * Math.sin(slow * t + phase) + drift, 0.5 * Math.cos(slow * t + phase), true, 0.2);
    });
  };
  const tipIns = (): void => {
    const base = 10 + nowSpeed * 0.08 + closed;
    for (let n = random.whole(1, 4); n > 0; n--) {
      hold(random.between(0.15, 0.5), () => put('tip-in', base + random.between(25, 40), 3, true, 0.05));
      hold(random.between(0.8, 2.5), () => put('cruise', base, -1, true, 0.1));
    }
  };
  const lift = (seconds: number, brakeKmHS: number): void =>
    hold(seconds, () => put('cruise', closed, -2.2 - brakeKmHS, nowSpeed > 4, 0.07));
  const pull = (): void => {
    const wish = random.pick([2, 3, 3, 4]);
    const fromRpm = random.between(1900, 3300);
    accelerate(Math.min(120, fromRpm / line.rpmPerKmH[wish]), random.between(25, 40));
    if (done()) return;
    const calmKmH = (fromRpm + 500) / line.rpmPerKmH[wish];
    while (!done() && nowSpeed > calmKmH) put('cruise', closed, -9, true, 0.07);
    if (nowGear !== wish) shiftTo(wish, 15);
    hold(4, () => {
      if (nowRpm > fromRpm + 300) put('cruise', closed + 4, -6, true);
    });
    cruise(random.between(0.8, 3));
    const wide = random.chance(0.75) ? 100 : random.between(85, 98),
      foot = random.between(0.05, 0.22),
      end = line.limitRpm - random.between(150, 900);
    let begin = at,
      more = random.chance(0.35) ? 1 : 0;
    while (!done()) {
      put(
        (at - begin) * STEP_S < 0.5 ? 'tip-in' : 'pull',
        wide === 100 ? 100 : wide + 1.2 * Math.sin(at * 0.011),
        (24 * line.brisk * (1 - 0.3 * Math.abs(nowRpm / line.limitRpm - 0.7))) / (0.6 + 0.55 * nowGear),
        true,
        foot,
      );
      if (nowRpm > end) {
        if (more-- <= 0 || nowGear >= 6) break;
        shiftTo(nowGear + 1, wide);
        begin = at;
      }
    }
    lift(random.between(1.5, 5), random.between(0, 5));
  };
  const stop = (): void => {
    const brakeKmHS = random.between(3, 9);
    while (!done() && nowSpeed > 0.5) {
      put('cruise', closed, -2.2 - brakeKmHS, nowSpeed > 9, 0.07);
      if (nowGear > 1 && nowRpm < 1300) nowGear -= 1;
    }
    nowSpeed = 0;
    nowGear = 0;
    idle(random.between(4, 35));
  };
  const idle = (seconds: number, name: EngineState = 'idle'): void => hold(seconds, () => put(name, closed, -20, false));

  if (start !== 'hot') {
    if (start === 'off' || random.chance(0.6))
      hold(random.between(3, 20), () => {
        nowRpm = 0;
        put('off', closed, 0, false);
        nowRpm = 0;
        rpm[at - 1] = 0;
      });
    hold(random.between(0.6, 1.4), () => {
      nowRpm = 210 + 25 * random.normal();
      put('cranking', closed, 0, false);
      rpm[at - 1] = nowRpm;
    });
    nowRpm = line.idleRpm + random.between(300, 700);
    idle(start === 'cold' ? random.between(15, 60) : random.between(5, 20), start === 'cold' ? 'warm-up' : 'idle');
  } else {
    nowRpm = line.idleRpm;
    idle(random.between(3, 12));
  }
  while (!done()) {
    const dice = random.next();
    if (dice < 0.3) pull();
    else if (dice < 0.5) {
      accelerate(random.between(30, 100), random.between(18, 45));
      cruise(random.between(5, 25));
    } else if (dice < 0.62 && nowSpeed > 25) tipIns();
    else if (dice < 0.76 && nowSpeed > 35) {
      lift(random.between(2, 7), random.between(0, 3));
      while (!done() && nowGear > 2 && nowRpm < 1500) shiftTo(nowGear - 1, 12);
      cruise(random.between(2, 8));
    } else if (dice < 0.88 || nowSpeed > 125) stop();
    else if (nowSpeed > 30) cruise(random.between(10, 40));
    else idle(random.between(2, 8));
  }
  return { throttle, gear, speedKmH, rpm, cut, state };
};
