// Columns of numbers that grow while a capture is read.

const FIRST_LENGTH = 1 << 10;

/** Numbers one behind the other; room doubles when it is full. */
export class Growing<T extends Float64Array | Int32Array> {
  length = 0;
  private room: T;

  constructor(private readonly make: (length: number) => T) {
    this.room = make(FIRST_LENGTH);
  }

  push(value: number): void {
    if (this.length === this.room.length) {
      const wider = this.make(2 * this.length);
      wider.set(this.room);
      this.room = wider;
    }
    this.room[this.length++] = value;
  }

  at(index: number): number {
    return this.room[index];
  }

  /** A copy of just what was pushed. */
  finish(): T {
    return this.room.slice(0, this.length) as T;
  }
}

export const growingDoubles = (): Growing<Float64Array> => new Growing((length) => new Float64Array(length));
export const growingIntegers = (): Growing<Int32Array> => new Growing((length) => new Int32Array(length));
