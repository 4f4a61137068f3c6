// ISO 15765-2: messages of up to 4095 bytes put together from frames, for each identifier by itself.

/** A message that came in whole. It and its arrays are used again for the identifier's next one. */
export interface Message {
  payload: Uint8Array;
  length: number;
  /**
   * Where the bytes stand: piece `i` begins at payload byte `pieceStarts[i]`, which is data byte `pieceBytes[i]` of the frame tagged
   * `pieceTags[i]`.
   */
  readonly pieceStarts: number[];
  readonly pieceBytes: number[];
  readonly pieceTags: number[];
}

/** From frame to frame of one message no more than this may pass (N_Cr, ISO 15765-2). A little more for the stamping of a busy logger. */
const LONGEST_WAIT_S = 1.01;

/**
 * A frame was lost or came too late; the beginning is not in the capture; the capture ends first; longer than any answer; fewer bytes than
 * it says.
 */
export type Incomplete = 'lost' | 'beginning' | 'end' | 'too-long' | 'short';

/** One identifier's side of the bus. */
export class Reassembler {
  /** Messages that never came in whole: a frame was lost, the next one began too early, or their beginning is not in the capture. */
  incomplete = 0;
  /** The last of them: the tag of its first frame seen, and why. */
  incompleteTag = -1;
  incompleteWhy: Incomplete = 'lost';
  private state: 'idle' | 'receiving' | 'skipping' = 'idle';
  private received = 0;
  private sequence = 0;
  private lastS = 0;
  private firstTag = -1;
  private readonly message: Message = { payload: new Uint8Array(64), length: 0, pieceStarts: [], pieceBytes: [], pieceTags: [] };

  /**
   * Takes a frame's data; the message where the frame ends one. `tag` names the frame in `pieceTags`; `timeS` is its clock. Never throws.
   */
  take(data: Uint8Array, length: number, timeS: number, tag: number): Message | undefined {
    if (length === 0) return undefined;
    if (this.state === 'receiving' && Math.abs(timeS - this.lastS) > LONGEST_WAIT_S) this.giveUp();
    switch (data[0] >> 4) {
      case 0:
        return this.single(data, length, tag);
      case 1:
        return this.first(data, length, timeS, tag);
      case 2:
        return this.consecutive(data, length, timeS, tag);
      default:
        return undefined; // flow control, or a type that the standard keeps for itself
    }
  }

  /** No more frames will come. */
  end(): void {
    if (this.state === 'receiving') this.giveUp('end');
  }

  private single(data: Uint8Array, length: number, tag: number): Message | undefined {
    // Frames of more than eight bytes carry the length in their second byte.
    const escaped = length > 8 && data[0] === 0;
    const from = escaped ? 2 : 1;
    const size = escaped ? data[1] : data[0] & 15;
    if (size === 0) return undefined;
    if (from + size > length) {
      // no frame of this protocol: a message under way goes on (ISO 15765-2)
      this.incomplete++;
      this.incompleteWhy = 'short';
      this.incompleteTag = tag;
      return undefined;
    }
    const interrupted = this.state === 'receiving';
    this.interrupt();
    this.begin(size);
    this.add(data, from, size, tag);
    if (interrupted) this.state = 'skipping'; // what still comes belongs to the message given up
    return this.message;
  }

  private first(data: Uint8Array, length: number, timeS: number, tag: number): undefined {
    if (length < 8) return undefined;
    this.interrupt();
    this.firstTag = tag;
    const size = (data[0] & 15) * 256 + data[1];
    // Twelve bits of zero: 32 bits of length follow, more than any service here sends. Up to seven bytes are a single frame's.
    if (size < 8) {
      this.giveUp(size === 0 ? 'too-long' : 'lost');
      return undefined;
    }
    this.begin(size);
    this.state = 'receiving';
    this.sequence = 1;
    this.lastS = timeS;
    this.add(data, 2, Math.min(length - 2, size), tag);
    return undefined;
  }

  private consecutive(data: Uint8Array, length: number, timeS: number, tag: number): Message | undefined {
    if (this.state === 'skipping') return undefined;
    if (this.state === 'idle') {
      this.firstTag = tag;
      this.giveUp('beginning');
      return undefined;
    }
    const left = this.message.length - this.received;
    const size = Math.min(length - 1, left);
    if ((data[0] & 15) !== this.sequence || (size < left && length < 8)) {
      this.giveUp();
      return undefined;
    }
    this.sequence = (this.sequence + 1) & 15;
    this.lastS = timeS;
    this.add(data, 1, size, tag);
    if (this.received < this.message.length) return undefined;
    this.state = 'idle';
    return this.message;
  }

  private interrupt(): void {
    if (this.state === 'receiving') this.giveUp();
    this.state = 'idle';
  }

  private giveUp(why: Incomplete = 'lost'): void {
    this.incomplete++;
    this.incompleteWhy = why;
    this.incompleteTag = this.firstTag;
    this.state = 'skipping';
  }

  private begin(size: number): void {
    const { message } = this;
    if (message.payload.length < size) message.payload = new Uint8Array(size);
    message.length = size;
    message.pieceStarts.length = message.pieceBytes.length = message.pieceTags.length = 0;
    this.received = 0;
  }

  private add(data: Uint8Array, from: number, size: number, tag: number): void {
    const { message } = this;
    message.pieceStarts.push(this.received);
    message.pieceBytes.push(from);
    message.pieceTags.push(tag);
    for (let index = 0; index < size; index++) message.payload[this.received + index] = data[from + index];
    this.received += size;
  }
}

/** The piece of a message that holds a payload byte. */
export const pieceOf = (message: Message, byte: number): number => {
  let piece = message.pieceStarts.length - 1;
  while (piece > 0 && message.pieceStarts[piece] > byte) piece--;
  return piece;
};
