// Rows of plain numbers, from bytes into columns: the innermost loop of the reader, compiled to WebAssembly (AssemblyScript). `npm run kernel` writes it
// into server/src/formats/csv/plainRowsCode.ts; csv/plain.ts does the same and more without it. Where cells end is found sixteen bytes at a time; then, column
// by column, four numbers are read at once that have as many decimals as those above them. No step depends on how long a number is, which no processor guesses.

/** Powers of ten by which whole numbers of at most fifteen digits are divided: both are exact, so that the quotient is correctly rounded. */
const POWERS = memory.data<f64>([1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15]);
const MOST_DIGITS: u32 = 15;
/** The sixteen bytes from `KEEP + n` on keep the last n of sixteen bytes, the eight from `KEEP + 8 + n` on the last n of eight. */
const KEEP = memory.data<u8>([
  0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255,
]);
/** Rows whose cells are found at a time: they, their ends and their values lie in the nearest cache. */
const MOST_ROWS: i32 = 128;
const MINUS: u8 = 45, PLUS: u8 = 43, POINT: u8 = 46, LF: u8 = 10, CR: u8 = 13, SPACE: u8 = 32, ZERO: u8 = 48;

/** Where the first row begins that was not read. */
export let behind: usize = 0;

/**
 * Reads rows of `width` cells, each a number of up to fifteen digits, blanks before it or not, or nothing, from the bytes [from, to), behind which 64 bytes more may be looked at: up
 * to `most`, and no further than the first row that is anything else. The value of a row and column goes to `out + column × stride + 8 × row`, the address
 * before each row's to `starts`, and the blank cells of each column are added to `blanks`. `points` remembers by column where in the last eight bytes of a
 * number the point stands, -1 where it has none. `ends` is room for 128 × `width` + 400 addresses. How many rows it read.
 */
export function read(from: usize, to: usize, out: usize, stride: usize, starts: usize, blanks: usize, points: usize, ends: usize, width: i32, most: i32, delimiter: i32, comma: i32): i32 {
  const across = <usize>width << 2;
  // The last column's, where a carriage return stands before the line's end, and then all.
  const lastEnds = ends, allEnds = ends + 8 * MOST_ROWS;
  let done: i32 = 0, wanted: i32 = 0;
  behind = from;
  do {
    wanted = min(most - done, MOST_ROWS);
    const rowStarts = starts + (<usize>done << 2);
    let rows = findCells(behind, to, rowStarts, allEnds, lastEnds, width, wanted, <u8>delimiter);
    for (let at: usize = 0, into = out + (<usize>done << 3); at < across; at += 4, into += stride) {
      const isApart = at === across - 4 && hasReturns;
      const read = readColumn(isApart ? lastEnds : allEnds + at, isApart ? 8 : across, into, rows, blanks + at, points + at, comma);
      if (read === rows) continue;
      for (let before: usize = 0, values = out + (<usize>done << 3); before < at; before += 4, values += stride) forget(values, read, rows, blanks + before);
      rows = read;
    }
    done += rows;
    behind = <usize>load<u32>(starts + (<usize>done << 2)) + 1;
    if (rows < wanted) break;
  } while (done < most);
  return done;
}

/** Blank cells of rows that are not read after all are none. */
function forget(values: usize, from: i32, to: i32, blanks: usize): void {
  for (let row = from; row < to; row++) {
    const value = load<f64>(values + (<usize>row << 3));
    if (value !== value) store<u32>(blanks, load<u32>(blanks) - 1);
  }
}

/** Whether the rows found last end with a carriage return and a line feed. */
let hasReturns = false;

/**
 * Writes the address before the first row and where each cell ends, row by row, to `ends`, and the address before each row to `starts`: of up to `most` rows that
 * end before `to`, have `width` cells and hold something. Where carriage returns stand before the line feeds, `lastEnds` takes what stands around each row's last cell. How many rows they are.
 */
function findCells(from: usize, to: usize, starts: usize, ends: usize, lastEnds: usize, width: i32, most: i32, delimiter: u8): i32 {
  const delimiters = i8x16.splat(<i8>delimiter), feeds = i8x16.splat(<i8>LF);
  const wanted = width * most;
  let count: i32 = 0, lines: i32 = 0;
  store<u32>(ends, <u32>(from - 1));
  store<u32>(starts, <u32>(from - 1));
  ends += 4;
  for (let at = from; at < to && count < wanted; at += 64) {
    const a = v128.load(at), b = v128.load(at, 16), c = v128.load(at, 32), d = v128.load(at, 48);
    const fa = i8x16.eq(a, feeds), fb = i8x16.eq(b, feeds), fc = i8x16.eq(c, feeds), fd = i8x16.eq(d, feeds);
    let bits = bitsOf(v128.or(fa, i8x16.eq(a, delimiters)), v128.or(fb, i8x16.eq(b, delimiters)), v128.or(fc, i8x16.eq(c, delimiters)), v128.or(fd, i8x16.eq(d, delimiters)));
    let feedBits = bitsOf(fa, fb, fc, fd);
    if (to - at < 64) {
      const inside: u64 = (<u64>1 << (to - at)) - 1;
      bits &= inside;
      feedBits &= inside;
    }
    const found = <i32>popcnt(bits);
    lines += <i32>popcnt(feedBits);
    let into = ends + (<usize>count << 2);
    count += found;
    for (let written = 0; written < found; written += 8, into += 32) {
      store<u32>(into, <u32>(at + <usize>ctz(bits)), 0); bits &= bits - 1;
      store<u32>(into, <u32>(at + <usize>ctz(bits)), 4); bits &= bits - 1;
      store<u32>(into, <u32>(at + <usize>ctz(bits)), 8); bits &= bits - 1;
      store<u32>(into, <u32>(at + <usize>ctz(bits)), 12); bits &= bits - 1;
      store<u32>(into, <u32>(at + <usize>ctz(bits)), 16); bits &= bits - 1;
      store<u32>(into, <u32>(at + <usize>ctz(bits)), 20); bits &= bits - 1;
      store<u32>(into, <u32>(at + <usize>ctz(bits)), 24); bits &= bits - 1;
      store<u32>(into, <u32>(at + <usize>ctz(bits)), 28); bits &= bits - 1;
    }
  }
  const across = <usize>width << 2, rows = min(count / width, most);
  // How many line feeds stand within a row: all but those behind the rows and those at a row's end.
  for (let cell = rows * width; cell < count; cell++) lines -= <i32>(load<u8>(load<u32>(ends + (<usize>cell << 2))) === LF);
  for (let each = 1; each <= rows; each++) lines -= <i32>(load<u8>(load<u32>(ends + <usize>each * across - 4)) === LF);
  let row: i32 = 0, end = ends;
  for (let rowAt = from; row < rows; row++) {
    const feedAt = <usize>load<u32>(end + across - 4), hasReturn = load<u8>(feedAt - 1) === CR;
    if (row === 0) hasReturns = hasReturn;
    if (load<u8>(feedAt) !== LF || hasReturn !== hasReturns || <i32>(feedAt - rowAt) - <i32>hasReturn < width) break;
    if (lines !== 0) {
      let cell = end;
      while (load<u8>(load<u32>(cell)) !== LF) cell += 4;
      if (cell !== end + across - 4) break;
    }
    if (hasReturn) { store<u32>(lastEnds + (<usize>row << 3), load<u32>(end + across - 8)); store<u32>(lastEnds + (<usize>row << 3), <u32>(feedAt - 1), 4); }
    store<u32>(starts + (<usize>row << 2), <u32>feedAt, 4);
    rowAt = feedAt + 1;
    end += across;
  }
  return row;
}

// The steps of both ways to read a number.

const IOTA = i8x16(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15);

/** The minus at the first kept byte of either half, where there is one. */
// @ts-ignore: decorator
@inline
function minusOf(bytes: v128, kept: v128): v128 { return v128.and(v128.andnot(kept, i64x2.shl(kept, 8)), i8x16.eq(bytes, i8x16.splat(<i8>(MINUS ^ ZERO)))); }

/** The sign's bit of either half that has a minus, which stands not at its last byte. */
// @ts-ignore: decorator
@inline
function signOf(minus: v128): v128 { return v128.and(i64x2.neg(minus), i64x2.splat(i64.MIN_VALUE)); }

/** Sixteen digits as four numbers of four: two digits to a pair, two pairs to a number. */
// @ts-ignore: decorator
@inline
function fourDigits(figures: v128): v128 { return i32x4.dot_i16x8_s(i16x8.shr_u(i16x8.mul(figures, i16x8.splat(2561)), 8), i32x4.splat(65636)); }

/** Four numbers of four digits and four more as four of eight. */
// @ts-ignore: decorator
@inline
function eightDigits(a: v128, b: v128): v128 { return i32x4.dot_i16x8_s(i16x8.narrow_i32x4_s(a, b), i32x4.splat(75536)); }

// @ts-ignore: decorator
@inline
function bitsOf(a: v128, b: v128, c: v128, d: v128): u64 {
  return <u64>i8x16.bitmask(a) | (<u64>i8x16.bitmask(b) << 16) | (<u64>i8x16.bitmask(c) << 32) | (<u64>i8x16.bitmask(d) << 48);
}

/** Reads one column's cells: each stands between two addresses, which are at `cell`, and those of the next row `step` from there. How many rows it read. */
function readColumn(cell: usize, step: usize, into: usize, rows: i32, blanks: usize, point: usize, comma: i32): i32 {
  let row: i32 = 0;
  while (row < rows) {
    if (rows - row >= 4) {
      const pointAt = load<i32>(point);
      const decimals: usize = pointAt < 0 ? 0 : 7 - pointAt;
      const power = f64x2.splat(load<f64>(POWERS + (decimals << 3)));
      const places = v128.and(IOTA, i8x16.splat(7)), at = i8x16.splat(<i8>pointAt), isPoint = i8x16.eq(places, at);
      const pointByte = v128.and(isPoint, i8x16.splat(<i8>(comma ^ <i32>ZERO))), most = v128.andnot(i8x16.splat(9), isPoint);
      // Each digit before the point one place on, and nothing in the first.
      const moved = i8x16.le_s(places, at), from = v128.or(i8x16.add(IOTA, moved), v128.and(moved, i8x16.eq(places, i8x16.splat(0))));
      do {
        const c1 = cell + step, c2 = c1 + step, c3 = c2 + step;
        const e0 = <usize>load<u32>(cell, 4), e1 = <usize>load<u32>(c1, 4), e2 = <usize>load<u32>(c2, 4), e3 = <usize>load<u32>(c3, 4);
        // One more than there are bytes.
        const l0 = e0 - load<u32>(cell), l1 = e1 - load<u32>(c1), l2 = e2 - load<u32>(c2), l3 = e3 - load<u32>(c3);
        if (((l0 - 2) | (l1 - 2) | (l2 - 2) | (l3 - 2)) > 7) break;
        const keepA = v128.load_lane<u64>(l1, v128.load_zero<u64>(l0, KEEP + 7), 1, KEEP + 7), keepB = v128.load_lane<u64>(l3, v128.load_zero<u64>(l2, KEEP + 7), 1, KEEP + 7);
        let a = v128.and(v128.xor(v128.load_lane<u64>(e1 - 8, v128.load_zero<u64>(e0 - 8), 1), i8x16.splat(<i8>ZERO)), keepA);
        let b = v128.and(v128.xor(v128.load_lane<u64>(e3 - 8, v128.load_zero<u64>(e2 - 8), 1), i8x16.splat(<i8>ZERO)), keepB);
        const minusA = minusOf(a, keepA), minusB = minusOf(b, keepB);
        a = v128.xor(v128.andnot(a, minusA), pointByte);
        b = v128.xor(v128.andnot(b, minusB), pointByte);
        // A digit or the point at each place, and at the last no sign.
        const wrong = v128.or(v128.or(i8x16.sub_sat_u(a, most), i8x16.sub_sat_u(b, most)), i64x2.shr_u(v128.or(minusA, minusB), 56));
        if (v128.any_true(wrong)) break;
        const numbers = eightDigits(fourDigits(i8x16.swizzle(a, from)), fourDigits(i8x16.swizzle(b, from)));
        v128.store(into, v128.xor(f64x2.div(f64x2.convert_low_i32x4_s(numbers), power), signOf(minusA)));
        v128.store(into, v128.xor(f64x2.div(f64x2.convert_low_i32x4_s(i32x4.shuffle(numbers, numbers, 2, 3, 2, 3)), power), signOf(minusB)), 16);
        row += 4;
        into += 32;
        cell = c3 + step;
      } while (rows - row >= 4);
    }
    for (let last = min(row + 4, rows); row < last; row++) {
      const found = readCell(<usize>load<u32>(cell) + 1, <usize>load<u32>(cell, 4), into, comma);
      if (found === NOTHING) store<u32>(blanks, load<u32>(blanks) + 1);
      else if (found === OTHER) return row;
      else if (found < 7) store<i32>(point, found);
      into += 8;
      cell += step;
    }
  }
  return row;
}

/** What a cell holds where it is no number. */
const NOTHING: i32 = 98, OTHER: i32 = 99;

/** Reads the cell [from, to) into an address. Gives where in its last eight bytes the point stands, -1 where there is none or it stands before them, or what it is. */
function readCell(from: usize, to: usize, into: usize, comma: i32): i32 {
  if (from === to) { store<f64>(into, NaN); return NOTHING; }
  while (load<u8>(from) === SPACE) from++;
  const length = to - from;
  if (length - 1 > 15) return OTHER;
  const sign = load<u8>(from), isNegative = sign === MINUS, signs = <i32>(isNegative || sign === PLUS);
  const bytes = v128.and(v128.xor(v128.load(to - 16), i8x16.splat(<i8>ZERO)), v128.load(KEEP + length - signs));
  const points = i8x16.bitmask(v128.or(i8x16.eq(bytes, i8x16.splat(<i8>(POINT ^ ZERO))), i8x16.eq(bytes, i8x16.splat(<i8>(comma ^ <i32>ZERO)))));
  const pointAt = points === 0 ? -1 : ctz(points);
  const decimals: usize = points === 0 ? 0 : 15 - pointAt;
  const digits = <i32>length - signs - <i32>(points !== 0);
  const figures = i8x16.swizzle(bytes, i8x16.add(IOTA, i8x16.le_s(IOTA, i8x16.splat(<i8>pointAt))));
  if (<u32>(digits - 1) >= MOST_DIGITS || v128.any_true(i8x16.gt_u(figures, i8x16.splat(9)))) return OTHER;
  const four = fourDigits(figures), eights = eightDigits(four, four);
  const mantissa = <i64>i32x4.extract_lane(eights, 0) * 100000000 + i32x4.extract_lane(eights, 1);
  const value = <f64>mantissa / load<f64>(POWERS + (decimals << 3));
  store<f64>(into, isNegative ? -value : value);
  return max(pointAt - 8, -1);
}
