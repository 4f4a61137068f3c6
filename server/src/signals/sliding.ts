// The greatest of the numbers in a window that slides over a column, found in one pass: each number goes in once and out once.

export class Greatest {
  /** Rows that may still be the greatest, what they hold falling: those in reach stand from `head` to before `tail`. */
  private rows = new Int32Array(1024);
  private values = new Float64Array(1024);
  private head = 0;
  private tail = 0;

  /** Takes in the next row; of equal numbers the latest is told. */
  push(row: number, value: number): void {
    const { values } = this;
    while (this.tail > this.head && values[this.tail - 1] <= value) this.tail--;
    if (this.tail === values.length) this.makeRoom();
    this.rows[this.tail] = row;
    this.values[this.tail++] = value;
  }

  /** Lets the rows before `from` go. */
  dropBefore(from: number): void {
    while (this.head < this.tail && this.rows[this.head] < from) this.head++;
  }

  /** The row that holds the greatest number; −1 without any. */
  get row(): number { return this.head < this.tail ? this.rows[this.head] : -1; }

  private makeRoom(): void {
    const { rows, values, head } = this, size = head > rows.length / 2 ? rows.length : 2 * rows.length;
    this.rows = new Int32Array(size);
    this.values = new Float64Array(size);
    this.rows.set(rows.subarray(head));
    this.values.set(values.subarray(head));
    this.tail -= head;
    this.head = 0;
  }
}
