// Large arrays that can be made again from what takes less room: those asked for last stay at hand, and no more of them than there is room
// for.

type Large = ArrayBufferView | undefined;

const ROOM_BYTES = 224 << 20;
/**
 * Where so many times its room was made again, a shelf takes twice the room: whoever goes through everything for each of many spells is not
 * to wait for it.
 */
const MOST_AGAIN = 40;
/** What takes less than so small a share of the room is small. */
const SMALL_SHARE = 1 / 256;

export class Shelf {
  /** In the order in which they were asked for. */
  private readonly kept = new Map<object, Large>();
  private readonly known = new WeakSet<object>();
  private last: object | undefined;
  private bytes = 0;
  private againBytes = 0;

  constructor(private room = ROOM_BYTES) {}

  /**
   * What `make` gave for the key, where it is still at hand, else what it gives now: the same to the last bit, never to be written to.
   * Where its `bytes` are known, room is made first.
   */
  get<T extends Large>(key: object, make: () => T, bytes = 0): T {
    const { kept } = this;
    if (kept.has(key)) {
      const found = kept.get(key) as T;
      if (key !== this.last) {
        kept.delete(key);
        kept.set((this.last = key), found);
      }
      return found;
    }
    this.letGo(this.room - bytes);
    const made = make();
    kept.set((this.last = key), made);
    this.bytes += made?.byteLength ?? 0;
    if (this.known.has(key)) this.againBytes += made?.byteLength ?? 0;
    this.known.add(key);
    if (this.againBytes > MOST_AGAIN * this.room) {
      this.againBytes = 0;
      this.room *= 2;
    }
    this.letGo(this.room, key);
    return made;
  }

  /**
   * Those not asked for longest go until so many bytes are left, all `but` one: the large ones first, for a small one may be as dear to
   * make again.
   */
  private letGo(most: number, but?: object): void {
    for (const least of [this.room * SMALL_SHARE, 0]) {
      for (const [key, array] of this.kept) {
        if (this.bytes <= most) return;
        const bytes = array?.byteLength ?? 0;
        if (key === but || bytes < least) continue;
        this.kept.delete(key);
        this.bytes -= bytes;
      }
    }
  }

  /** The same for one array of each `of`. */
  each<Of, T extends Large>(make: (of: Of) => T): (of: Of) => T {
    const keys = new Map<Of, object>();
    return (of) => {
      let key = keys.get(of);
      if (!key) keys.set(of, (key = {}));
      return this.get(key, () => make(of));
    };
  }
}
