// A drive as a car with gears would do it, logged twice: other equations than the code that joins them again, everything drawn.

export interface Draw {
  next(): number;
  between(low: number, high: number): number;
  normal(): number;
}

/** Mulberry32, a public-domain generator. */
export function drawFrom(seed: number): Draw {
  let state = seed >>> 0;
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
  return {
    next,
    between: (low, high) => low + (high - low) * next(),
    normal: () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
  };
}

export interface Drive {
  readonly lengthS: number;
  rpmAt(atS: number): number;
}

/** Road speed is driven at by a first-order driver toward drawn wishes; gears change the engine speed at once; at a stand it idles. */
export function drawDrive(draw: Draw, lengthS: number): Drive {
  const stepS = 0.02;
  const rpm = new Float64Array(Math.ceil(lengthS / stepS) + 1);
  const perGear = [0, 130, 75, 52, 40, 32];
  let [speed, gear, wish, untilS, shiftS] = [0, 1, 0, 0, -9];
  for (let at = 0; at < rpm.length; at++) {
    const nowS = at * stepS;
    if (nowS >= untilS) {
      wish = draw.next() < 0.25 ? 0 : draw.between(20, 130);
      untilS = nowS + draw.between(4, 25);
    }
    const most = wish > speed ? 14 / (1 + speed / 60) : 18;
    speed = Math.max(0, speed + Math.max(-most, Math.min(most, (wish - speed) * 0.9)) * stepS + draw.normal() * 0.02);
    if (nowS - shiftS > 1.2 && gear < 5 && speed * perGear[gear] > 5200 - 300 * gear) {
      gear++;
      shiftS = nowS;
    }
    if (nowS - shiftS > 1.2 && gear > 1 && speed * perGear[gear] < 1500) {
      gear--;
      shiftS = nowS;
    }
    const target = Math.max(850 + 20 * Math.sin(nowS / 3.1), speed * perGear[gear]);
    rpm[at] = at === 0 ? target : rpm[at - 1] + (target - rpm[at - 1]) * Math.min(1, stepS / 0.12);
  }
  return {
    lengthS,
    rpmAt: (atS) => {
      const place = Math.max(0, Math.min(rpm.length - 1.001, atS / stepS));
      const low = Math.floor(place);
      return rpm[low] + (rpm[low + 1] - rpm[low]) * (place - low);
    },
  };
}

export interface LoggerOptions {
  readonly fromS: number;
  readonly toS: number;
  readonly rateHz: number;
  /** Its clock shows this at `fromS`, and gains this much a second. */
  readonly showsS: number;
  readonly fast: number;
  readonly noiseRpm: number;
  readonly stepRpm: number;
  /** Share of readings lost. */
  readonly lost?: number;
  /** Unevenness of its sampling, share of a step. */
  readonly jitter?: number;
}

/** Readings by the logger's own clock. */
export function logged(
  drive: Drive,
  draw: Draw,
  { fromS, toS, rateHz, showsS, fast, noiseRpm, stepRpm, lost = 0, jitter = 0 }: LoggerOptions,
): { timeS: number[]; rpm: number[] } {
  const timeS: number[] = [];
  const rpm: number[] = [];
  for (let index = 0; ; index++) {
    const trueS = fromS + (index + jitter * (draw.next() - 0.5)) / rateHz;
    if (trueS > toS) break;
    if (draw.next() < lost) continue;
    timeS.push(Math.round((showsS + (trueS - fromS) * (1 + fast)) * 1e4) / 1e4);
    rpm.push(Math.round((drive.rpmAt(trueS) + noiseRpm * draw.normal()) / stepRpm) * stepRpm);
  }
  return { timeS, rpm };
}
