// Rows of plain numbers, from bytes into columns: the innermost loop of the reader, compiled to WebAssembly (AssemblyScript). `npm run
// kernel` writes it into server/src/formats/csv/plainRowsCode.ts; csv/plain.ts does the same and more without it. Where cells end is found
// sixteen bytes at a time; then, column by column, four numbers are read at once that have as many decimals as those above them. No step
// depends on how long a number is, which no processor guesses.

/**
 * Powers of ten by which whole numbers of at most fifteen digits are divided: both are exact, so that the quotient is correctly rounded.
 */
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
 * Reads rows of `width` cells, each a number of up to fifteen digits, blanks before it or not, or nothing, from the bytes [from, to),
 * behind which 64 bytes more may be looked at: up to `most`, and no further than the first row that is anything else. The value of a row
 * and column goes to `out + column × stride + 8 × row`, the address before each row's to `starts`, and the blank cells of each column are
 * added to `blanks`. `points` remembers by column what `readCell` told of the point, -1 at first. `ends` is room for 128 × `width` + 400
 * addresses. How many rows it read.
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

/**
 * Writes where the cells end whose ends are the bits of 32 bytes, and up to seven addresses more behind them. How many ends there are by
 * then.
 */
// @ts-ignore: decorator
@inline
function writeEnds(ends: usize, count: i32, at: usize, bits: u32): i32 {
  let into = ends + (<usize>count << 2);
  count += popcnt(bits);
  do {
    store<u32>(into, <u32>at + ctz(bits), 0); bits &= bits - 1;
    store<u32>(into, <u32>at + ctz(bits), 4); bits &= bits - 1;
    store<u32>(into, <u32>at + ctz(bits), 8); bits &= bits - 1;
    store<u32>(into, <u32>at + ctz(bits), 12); bits &= bits - 1;
    store<u32>(into, <u32>at + ctz(bits), 16); bits &= bits - 1;
    store<u32>(into, <u32>at + ctz(bits), 20); bits &= bits - 1;
    store<u32>(into, <u32>at + ctz(bits), 24); bits &= bits - 1;
    store<u32>(into, <u32>at + ctz(bits), 28); bits &= bits - 1;
    into += 32;
  } while (bits !== 0);
  return count;
}

/** Whether the rows found last end with a carriage return and a line feed. */
let hasReturns = false;

/**
 * Writes the address before the first row and where each cell ends, row by row, to `ends`, and the address before each row to `starts`: of
 * up to `most` rows that end before `to`, have `width` cells and hold something. Where carriage returns stand before the line feeds,
 * `lastEnds` takes what stands around each row's last cell. How many rows they are.
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
    let low = bitsOf(v128.or(fa, i8x16.eq(a, delimiters)), v128.or(fb, i8x16.eq(b, delimiters))), high = bitsOf(v128.or(fc, i8x16.eq(c, delimiters)), v128.or(fd, i8x16.eq(d, delimiters)));
    let lowFeeds = bitsOf(fa, fb), highFeeds = bitsOf(fc, fd);
    if (to - at < 64) {
      const inside: u64 = (<u64>1 << (to - at)) - 1;
      low &= <u32>inside;
      lowFeeds &= <u32>inside;
      high &= <u32>(inside >> 32);
      highFeeds &= <u32>(inside >> 32);
    }
    lines += popcnt(lowFeeds) + popcnt(highFeeds);
    count = writeEnds(ends, count, at, low);
    count = writeEnds(ends, count, at + 32, high);
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
function fourDigits(figures: v128, toPairs: v128, toFours: v128): v128 { return i32x4.dot_i16x8_s(i16x8.shr_u(i16x8.mul(figures, toPairs), 8), toFours); }

/** Four numbers of four digits and four more as four of eight. */
// @ts-ignore: decorator
@inline
function eightDigits(a: v128, b: v128, toEights: v128): v128 { return i32x4.dot_i16x8_s(i16x8.narrow_i32x4_s(a, b), toEights); }

// @ts-ignore: decorator
@inline
function bitsOf(a: v128, b: v128): u32 { return <u32>i8x16.bitmask(a) | (<u32>i8x16.bitmask(b) << 16); }

/**
 * Reads one column's cells: each stands between two addresses, which are at `cell`, and those of the next row `step` from there. How many
 * rows it read.
 */
function readColumn(cell: usize, step: usize, into: usize, rows: i32, blanks: usize, point: usize, comma: i32): i32 {
  let row: i32 = 0, laid: i32 = -2, hasMinus = false;
  while (row < rows) {
    if (rows - row >= 4 && load<u32>(cell, 4) - load<u32>(cell) > 1) {
      const known = load<i32>(point);
      if (known !== laid) layPlan(laid = known);
      let read = hasMinus ? 0 : readFours<u8>(cell, step, into, rows - row);
      if (rows - row - read >= 4) {
        const signed = readFours<i8>(cell + <usize>read * step, step, into + (<usize>read << 3), rows - row - read);
        hasMinus = signed > 0;
        read += signed;
      }
      row += read;
      into += <usize>read << 3;
      cell += <usize>read * step;
    }
    for (let last = min(row + 4, rows); row < last; row++) {
      const found = readCell(<usize>load<u32>(cell) + 1, <usize>load<u32>(cell, 4), into, comma);
      if (found === NOTHING) store<u32>(blanks, load<u32>(blanks) + 1);
      else if (found === OTHER) return row;
      else if ((found & 7) < 7 || found < 0) store<i32>(point, found);
      into += 8;
      cell += step;
    }
  }
  return row;
}

/**
 * What numbers with the point at one place have in common, in memory: there the compiler leaves it, instead of making it anew for every
 * four.
 */
const PLAN = memory.data(112);

/** Lays the plan for a point that `readCell` told, at one of the first seven of eight places or none. */
function layPlan(point: i32): void {
  // Digits before the point weigh a tenth of what they do where there is none: told by byte, pair of bytes and four of them.
  const has = point >= 0, pointAt = has ? point & 7 : -1, bit = <i64>pointAt << 3, pair = bit & 48;
  put(0, i8x16.splat(<i8>ZERO));
  put(16, i64x2.splat(has ? <i64>(point >> 3) << bit : 0));
  put(32, i64x2.splat(has ? 0x0909090909090909 & ~(<i64>255 << bit) : 0x0909090909090909));
  put(48, i64x2.splat(has ? 0x0a010a010a010a01 & ~(<i64>0xffff << pair) | <i64>(pointAt & 1 ? 256 : 1) << pair : 0x0a010a010a010a01));
  put(64, i64x2.splat(has && pair & 16 ? 0x0001006400010064 ^ <i64>(100 ^ 10) << (pair - 16) : 0x0001006400010064));
  put(80, i32x4.splat(pointAt >= 4 ? 66536 : 75536));
  put(96, f64x2.splat(load<f64>(POWERS + (has ? <usize>(7 - pointAt) << 3 : 0))));
}

// @ts-ignore: decorator
@inline
function put(at: usize, plan: v128): void { v128.store(PLAN + at, plan); }

/** Reads four cells at a time as long as they are what the plan says, with a minus where the type has a sign. How many. */
function readFours<T>(cell: usize, step: usize, into: usize, rows: i32): i32 {
  const zero = v128.load(PLAN), pointByte = v128.load(PLAN, 16), most = v128.load(PLAN, 32), toPairs = v128.load(PLAN, 48), toFours = v128.load(PLAN, 64), toEights = v128.load(PLAN, 80), power = v128.load(PLAN, 96);
  let row: i32 = 0;
  for (; row + 4 <= rows; row += 4) {
    const c1 = cell + step, c2 = c1 + step, c3 = c2 + step;
    const e0 = <usize>load<u32>(cell, 4), e1 = <usize>load<u32>(c1, 4), e2 = <usize>load<u32>(c2, 4), e3 = <usize>load<u32>(c3, 4);
    // One more than there are bytes.
    const l0 = e0 - load<u32>(cell), l1 = e1 - load<u32>(c1), l2 = e2 - load<u32>(c2), l3 = e3 - load<u32>(c3);
    if (((l0 - 2) | (l1 - 2) | (l2 - 2) | (l3 - 2)) > 7) break;
    const keepA = v128.load_lane<u64>(l1, v128.load_zero<u64>(l0, KEEP + 7), 1, KEEP + 7), keepB = v128.load_lane<u64>(l3, v128.load_zero<u64>(l2, KEEP + 7), 1, KEEP + 7);
    let a = v128.and(v128.xor(v128.load_lane<u64>(e1 - 8, v128.load_zero<u64>(e0 - 8), 1), zero), keepA);
    let b = v128.and(v128.xor(v128.load_lane<u64>(e3 - 8, v128.load_zero<u64>(e2 - 8), 1), zero), keepB);
    const minusA = minusOf(a, keepA), minusB = minusOf(b, keepB);
    if (isSigned<T>()) {
      a = v128.andnot(a, minusA);
      b = v128.andnot(b, minusB);
    }
    a = v128.xor(a, pointByte);
    b = v128.xor(b, pointByte);
    // A digit or the point at each place, and at the last no sign.
    let wrong = v128.or(i8x16.sub_sat_u(a, most), i8x16.sub_sat_u(b, most));
    if (isSigned<T>()) wrong = v128.or(wrong, i64x2.shr_u(v128.or(minusA, minusB), 56));
    if (v128.any_true(wrong)) break;
    const numbers = eightDigits(fourDigits(a, toPairs, toFours), fourDigits(b, toPairs, toFours), toEights);
    let low = f64x2.div(f64x2.convert_low_i32x4_s(numbers), power), high = f64x2.div(f64x2.convert_low_i32x4_s(i32x4.shuffle(numbers, numbers, 2, 3, 2, 3)), power);
    if (isSigned<T>()) {
      low = v128.xor(low, signOf(minusA));
      high = v128.xor(high, signOf(minusB));
    }
    v128.store(into, low);
    v128.store(into, high, 16);
    into += 32;
    cell = c3 + step;
  }
  return row;
}

/** What a cell holds where it is no number. */
const NOTHING: i32 = 1 << 16, OTHER: i32 = NOTHING + 1;

/**
 * Reads the cell [from, to) into an address. Gives where in its last eight bytes the point stands and, eightfold, the point less `ZERO` by
 * bits, -1 where there is none or it stands before them, or what it is.
 */
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
  const four = fourDigits(figures, i16x8.splat(2561), i32x4.splat(65636)), eights = eightDigits(four, four, i32x4.splat(75536));
  const mantissa = <i64>i32x4.extract_lane(eights, 0) * 100000000 + i32x4.extract_lane(eights, 1);
  const value = <f64>mantissa / load<f64>(POWERS + (decimals << 3));
  store<f64>(into, isNegative ? -value : value);
  return pointAt < 8 ? -1 : pointAt - 8 | (<i32>load<u8>(to - 16 + pointAt) ^ <i32>ZERO) << 3;
}
