// Rows of plain numbers, from bytes into columns: the innermost loop of the reader, compiled to WebAssembly (AssemblyScript), where it runs twice
// as fast. `npm run kernel` writes it into server/src/formats/csv/plainRowsCode.ts; csv/plain.ts does the same and more without it.

/** Powers of ten by which whole numbers of at most nine digits are divided: exact, so that the quotient is correctly rounded. */
const POWERS = memory.data<f64>([1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000, 1000000000]);
const MOST_DIGITS: usize = 9;

/** Where the first row begins that was not read. */
export let behind: usize = 0;

/**
 * Reads rows of `width` cells, each a number of up to nine digits or nothing, from the bytes [from, to), behind which a line feed stands: up to `most`,
 * and no further than the first row that is anything else. The value of a row and column goes to `out + column × stride + 8 × row`, each row's address to
 * `starts`, and the blank cells of each column are added to `blanks`. How many rows it read.
 */
export function read(from: usize, to: usize, out: usize, stride: usize, starts: usize, blanks: usize, width: i32, most: i32, delimiter: u32, comma: u32): i32 {
  let at = from;
  let row: i32 = 0;
  while (row < most && at < to) {
    const rowAt = at;
    let into = out + (<usize>row << 3);
    let column = 0, numbers = 0;
    let byte: u32 = 0;
    while (column < width) {
      const cellAt = at;
      let negative = false;
      byte = load<u8>(at);
      if (byte == 45 || byte == 43) { negative = byte == 45; byte = load<u8>(++at); }
      const firstDigit = at;
      let mantissa: i32 = 0;
      while (byte - 48 <= 9) { mantissa = mantissa * 10 + (byte - 48); byte = load<u8>(++at); }
      let digits = at - firstDigit, decimals: usize = 0;
      if (byte == 46 || byte == comma) {
        byte = load<u8>(++at);
        const firstDecimal = at;
        while (byte - 48 <= 9) { mantissa = mantissa * 10 + (byte - 48); byte = load<u8>(++at); }
        decimals = at - firstDecimal;
        digits += decimals;
      }
      if (digits != 0 && digits <= MOST_DIGITS) {
        const value = <f64>mantissa / load<f64>(POWERS + (decimals << 3));
        store<f64>(into, negative ? -value : value);
        numbers++;
      } else if (at == cellAt) {
        store<f64>(into, NaN);
        const counter = blanks + (<usize>column << 2);
        store<u32>(counter, load<u32>(counter) + 1);
      } else break;
      column++;
      into += stride;
      if (byte != delimiter) break;
      at++;
    }
    const next = byte == 10 ? at + 1 : byte == 13 && load<u8>(at + 1) == 10 ? at + 2 : to + 1;
    if (column != width || numbers == 0 || next > to) {
      for (let each = 0; each < column; each++) {
        const value = load<f64>(out + <usize>each * stride + (<usize>row << 3));
        const counter = blanks + (<usize>each << 2);
        if (value != value) store<u32>(counter, load<u32>(counter) - 1);
      }
      behind = rowAt;
      return row;
    }
    store<u32>(starts + (<usize>row << 2), <u32>rowAt);
    row++;
    at = next;
  }
  behind = at;
  return row;
}
