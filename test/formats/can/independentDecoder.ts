// A second decoder of captures that shares nothing with the reader: hex strings are sliced, numbers are BigInt, formulas are texts of the
// standard's letters.

/** Identifier, data bytes, then name and formula in A, B, C, D of each number. Figures: SAE J1979 / ISO 15031-5. */
const TABLE = `
01 4 | Malfunction lamp = A > 127 ? 1 : 0 | Stored trouble codes = A % 128
03 2 | Fuel system status = A | Fuel system 2 status = B
04 1 | Calculated load = A * 100 / 255
05 1 | Coolant temperature = A - 40
06 1 | Short-term fuel trim = (A - 128) * 100 / 128
07 1 | Long-term fuel trim = (A - 128) * 100 / 128
08 1 | Short-term fuel trim bank 2 = (A - 128) * 100 / 128
09 1 | Long-term fuel trim bank 2 = (A - 128) * 100 / 128
0A 1 | Fuel pressure = 3 * A
0B 1 | Manifold pressure = A * (maxD ? maxD * 10 / 255 : 1)
0C 2 | Engine speed = (256 * A + B) / 4
0D 1 | Vehicle speed = A
0E 1 | Ignition advance = A / 2 - 64
0F 1 | Intake air temperature = A - 40
10 2 | Mass air flow = (256 * A + B) * (airA ? airA * 10 / 65535 : 0.01)
11 1 | Throttle position = A * 100 / 255
14 2 | Oxygen sensor voltage B1S1 = A / 200 | Oxygen sensor trim B1S1 = B == 255 ? null : (B - 128) * 100 / 128
15 2 | Oxygen sensor voltage B1S2 = A / 200 | Oxygen sensor trim B1S2 = B == 255 ? null : (B - 128) * 100 / 128
1F 2 | Time since engine start = 256 * A + B
21 2 | Distance with lamp on = 256 * A + B
22 2 | Fuel rail pressure above manifold = (256 * A + B) * 0.079
23 2 | Fuel rail pressure = (256 * A + B) * 10
24 4 | Lambda B1S1 = (256 * A + B) * (maxA || 2) / 65536 | Wideband voltage B1S1 = (256 * C + D) * (maxB || 8) / 65536
25 4 | Lambda B1S2 = (256 * A + B) * (maxA || 2) / 65536 | Wideband voltage B1S2 = (256 * C + D) * (maxB || 8) / 65536
28 4 | Lambda B2S1 = (256 * A + B) * (maxA || 2) / 65536 | Wideband voltage B2S1 = (256 * C + D) * (maxB || 8) / 65536
33 1 | Barometric pressure = A
34 4 | Lambda by pump current B1S1 = (256 * A + B) * (maxA || 2) / 65536 | Wideband pump current B1S1 = ((256 * C + D) / 256 - 128) * (maxC || 128) / 128
38 4 | Lambda by pump current B2S1 = (256 * A + B) * (maxA || 2) / 65536 | Wideband pump current B2S1 = ((256 * C + D) / 256 - 128) * (maxC || 128) / 128
3C 2 | Catalyst temperature B1S1 = (256 * A + B) / 10 - 40
42 2 | Control module voltage = (256 * A + B) / 1000
43 2 | Absolute load = (256 * A + B) * 100 / 255
44 2 | Target lambda = (256 * A + B) * (maxA || 2) / 65536
45 1 | Relative throttle position = A * 100 / 255
46 1 | Ambient temperature = A - 40
47 1 | Throttle position B = A * 100 / 255
49 1 | Pedal position D = A * 100 / 255
4C 1 | Commanded throttle = A * 100 / 255
51 1 | Fuel type = A
52 1 | Ethanol content = A * 100 / 255
5C 1 | Oil temperature = A - 40
5E 2 | Fuel rate = (256 * A + B) / 20
61 1 | Driver demand torque = A - 125
62 1 | Engine torque = A - 125
63 2 | Reference torque = 256 * A + B
4F 4
50 4
`;

type Formula = (
  A: number,
  B: number,
  C: number,
  D: number,
  maxA: number,
  maxB: number,
  maxC: number,
  maxD: number,
  airA: number,
) => number | null;
interface Entry {
  readonly bytes: number;
  readonly parts: readonly { readonly name: string; readonly formula: Formula }[];
}

export const ENTRIES: ReadonlyMap<string, Entry> = new Map(
  TABLE.trim()
    .split('\n')
    .map((row) => {
      const [head, ...parts] = row.split(' | ');
      const [identifier, bytes] = head.split(' ');
      return [
        identifier,
        {
          bytes: Number(bytes),
          parts: parts.map((part) => {
            const [, name, text] = /^(.*?) = (.*)$/.exec(part) as unknown as [string, string, string];
            return { name, formula: new Function('A', 'B', 'C', 'D', 'maxA', 'maxB', 'maxC', 'maxD', 'airA', `return ${text}`) as Formula };
          }),
        },
      ];
    }),
);

interface Answer {
  readonly micros: bigint;
  readonly unit: string;
  readonly hex: string;
}
export interface Decoded {
  /** `name @ microseconds from the first frame` → value. */
  readonly readings: readonly { readonly name: string; readonly micros: number; readonly value: number }[];
  /** `unit state code`, each once, in order. */
  readonly codes: readonly string[];
}

const LINE = /^\((\d+)\.(\d{6})\) (\S+) ([0-9A-F]{3}|[0-9A-F]{8})#([0-9A-F]*)$/;

/** All of a capture whose lines are in order of time and no more than a second apart. */
export const decode = (text: string): Decoded => {
  const lines = text.split('\n').flatMap((each) => {
    const match = LINE.exec(each);
    return match && match[5].length % 2 === 0 && match[5].length <= 16 ? [match] : [];
  });
  const stamp = (match: RegExpExecArray): bigint => BigInt(match[1]) * 1000000n + BigInt(match[2]);
  const start = lines.length > 0 ? stamp(lines[0]) : 0n;

  const answers: Answer[] = [];
  const underWay = new Map<string, { left: number; hex: string; next: bigint }>();
  for (const match of lines) {
    const [, , , port, unit, hex] = match;
    if (!/^7E[89A-F]$|^18DAF1..$/.test(unit) || hex === '') continue;
    const key = `${unit} ${port}`;
    const kind = hex[0];
    const micros = stamp(match) - start;
    if (kind === '0') {
      const size = parseInt(hex[1], 16);
      if (size === 0 || size > 7 || hex.length < 2 + 2 * size) continue;
      underWay.delete(key);
      answers.push({ micros, unit, hex: hex.slice(2, 2 + 2 * size) });
    } else if (kind === '1' && hex.length === 16) {
      const size = Number(BigInt(`0x${hex.slice(1, 4)}`));
      underWay.delete(key);
      if (size >= 8) underWay.set(key, { left: size * 2 - 12, hex: hex.slice(4), next: 1n });
    } else if (kind === '2') {
      const message = underWay.get(key);
      if (!message) continue;
      if (message.next % 16n !== BigInt(`0x${hex[1]}`)) {
        underWay.delete(key);
        continue;
      }
      const piece = hex.slice(2).slice(0, message.left);
      if (piece.length < Math.min(14, message.left)) {
        underWay.delete(key);
        continue;
      }
      message.hex += piece;
      message.left -= piece.length;
      message.next++;
      if (message.left === 0) {
        answers.push({ micros, unit, hex: message.hex });
        underWay.delete(key);
      }
    }
  }

  // The ranges a controller sets hold for all it says.
  const ranges = new Map<string, { max: number[]; air: number }>();
  const walk = (answer: Answer, each: (identifier: string, data: string) => void): void => {
    for (let rest = answer.hex.slice(2); rest.length > 0;) {
      const identifier = rest.slice(0, 2);
      const entry = ENTRIES.get(identifier);
      if (!entry || rest.length < 2 + 2 * entry.bytes) return;
      each(identifier, rest.slice(2, 2 + 2 * entry.bytes));
      rest = rest.slice(2 + 2 * entry.bytes + (/^0[6-9]$/.test(identifier) && answer.hex.length === 8 ? 2 : 0));
    }
  };
  const letters = (data: string): number[] =>
    [0, 2, 4, 6].map((at) => (at < data.length ? Number(BigInt(`0x${data.slice(at, at + 2)}`)) : 0));
  const rangeOf = (unit: string): { max: number[]; air: number } => {
    if (!ranges.has(unit)) ranges.set(unit, { max: [0, 0, 0, 0], air: 0 });
    return ranges.get(unit)!;
  };
  const values = answers.filter(({ hex }) => hex.startsWith('41'));
  for (const answer of values) {
    walk(answer, (identifier, data) => {
      const range = rangeOf(answer.unit);
      if (identifier === '4F') range.max = range.max.map((before, index) => before || letters(data)[index]);
      if (identifier === '50') range.air ||= letters(data)[0];
    });
  }

  const readings: { name: string; micros: number; value: number }[] = [];
  const owner = new Map<string, string>();
  for (const answer of values) {
    walk(answer, (identifier, data) => {
      for (const { name, formula } of ENTRIES.get(identifier)!.parts) {
        const range = rangeOf(answer.unit);
        const value = formula(
          ...(letters(data) as [number, number, number, number]),
          ...(range.max as [number, number, number, number]),
          range.air,
        );
        if (value === null) continue;
        if (!owner.has(identifier)) owner.set(identifier, answer.unit);
        readings.push({
          name: owner.get(identifier) === answer.unit ? name : `${name} (${answer.unit})`,
          micros: Number(answer.micros),
          value,
        });
      }
    });
  }

  const codes = new Set<string>();
  for (const { unit, hex } of answers) {
    const state = { 43: 'stored', 47: 'pending', '4A': 'permanent' }[hex.slice(0, 2)];
    if (!state || hex.length < 4) continue;
    const counted = parseInt(hex.slice(2, 4), 16);
    for (const code of (hex.slice(4).match(/.{4}/g) ?? []).slice(0, counted)) {
      if (code === '0000') continue;
      const first = parseInt(code[0], 16);
      codes.add(`${unit} ${state} ${['P', 'C', 'B', 'U'][Math.floor(first / 4)]}${first % 4}${code.slice(1)}`);
    }
  }
  return { readings, codes: [...codes] };
};
