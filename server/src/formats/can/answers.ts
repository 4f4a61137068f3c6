// What the controllers of a capture answered: readings and trouble codes in the order of the text, each with the bytes that carried it.

import type { LoggedCode } from '../session/session.js';
import { growingDoubles, growingIntegers } from './growing.js';
import {
  IDENTIFIERS,
  MAXIMA,
  MAXIMUM_AIR_FLOW,
  SENSORS_FOUR_BANKS,
  SENSORS_TWO_BANKS,
  rawOf,
  supportedIdentifiers,
  topsOf,
  walkAnswer,
  type Ranged,
} from './service01.js';
import { pieceOf, type Message, type Reassembler } from './transport.js';
import { CODE_STATES, codesOfAnswer } from './troubleCodes.js';

/** One control unit, by the identifier that it answers with. */
export interface Controller {
  readonly index: number;
  /** Identifier in hex, as the capture writes it. */
  readonly label: string;
  /** Network interface of the logger that heard it. */
  readonly interface: string;
  readonly reassembler: Reassembler;
  /** Full ranges that it set by identifiers 4F and 50; the first word counts. */
  readonly tops: Partial<Record<Ranged, number>>;
  /** Oxygen sensors as four banks of two instead of two banks of four. */
  fourBanks: boolean;
}

/** A channel to be: one reading of one identifier of one controller. */
export interface AnsweredChannel {
  readonly controller: Controller;
  readonly identifier: number;
  /** Which of the identifier's readings. */
  readonly part: number;
  count: number;
  /** Index of its first reading. */
  readonly first: number;
  lastSample: number;
}

/** Where a stretch of an answer's bytes stands: data bytes `from`, `from + 1`, … of the frame tagged `tag`. */
export interface BytesPlace {
  readonly tag: number;
  readonly from: number;
  readonly bytes: number;
}
export interface AnsweredCode extends BytesPlace {
  readonly text: string;
  readonly state: NonNullable<LoggedCode['state']>;
  readonly controller: Controller;
  readonly sample: number;
}

/** What an answer held beside what was taken. */
export interface LeftOver {
  /** A service that is not read. */
  otherService?: number;
  /** The controller refused a request. */
  refused?: true;
  /** An identifier that nothing is known of; what stands behind it is lost too. */
  unknownIdentifier?: number;
  /** Fewer bytes than this identifier, or this count of codes, needs. */
  shortOf?: number;
}

const NEGATIVE_ANSWER = 0x7f;
const CODES_KEPT = 10_000;
/** More channels than any car answers with. */
const MOST_CHANNELS = 1024;
const TAKEN: LeftOver = {};

export class Answers {
  readonly channels: AnsweredChannel[] = [];
  readonly codes: AnsweredCode[] = [];
  /** Readings, in the order of samples. */
  readonly channel = growingIntegers();
  readonly value = growingDoubles();
  readonly tag = growingIntegers();
  /** First data byte in the frame, and how many of the reading's bytes stand in that frame, packed. */
  readonly place = growingIntegers();
  /** Samples: seconds, the frame that completed the answer, and the first of the readings. */
  readonly timeS = growingDoubles();
  readonly sampleTag = growingIntegers();
  readonly sampleFirst = growingIntegers();
  /** Readings of channels beyond what any car has. */
  readingsLeftOut = 0;
  private readonly channelOf = new Map<number, number>();
  private readonly codesSeen = new Set<string>();

  /** Takes a whole message that ended at `timeS` in the frame tagged `tag`. */
  take(message: Message, controller: Controller, timeS: number, tag: number): LeftOver {
    const service = message.payload[0];
    if (service === 0x41) return this.takeValues(message, controller, timeS, tag);
    const state = CODE_STATES.get(service);
    if (state) return this.takeCodes(message, state, controller, timeS, tag);
    return service === NEGATIVE_ANSWER ? { refused: true } : { otherService: service };
  }

  private takeValues(message: Message, controller: Controller, timeS: number, tag: number): LeftOver {
    const { payload, length } = message;
    const stopped = walkAnswer(payload, length, (identifier, at) => {
      this.learn(identifier, payload, at, controller);
      const known = IDENTIFIERS.get(identifier);
      if (!known) return;
      for (let part = 0; part < known.readings.length; part++) {
        const reading = known.readings[part];
        const value = reading.decode(rawOf(payload, at, reading));
        if (value === value) this.add(controller, identifier, part, value, timeS, tag, message, at + reading.from, reading.bytes);
      }
    });
    if (stopped === undefined) return TAKEN;
    return IDENTIFIERS.has(stopped) ? { shortOf: stopped } : { unknownIdentifier: stopped };
  }

  /** What an answer tells of how others are to be read. */
  private learn(identifier: number, payload: Uint8Array, at: number, controller: Controller): void {
    switch (identifier) {
      case MAXIMA:
      case MAXIMUM_AIR_FLOW:
        for (const [ranged, top] of Object.entries(topsOf(identifier, payload, at)) as [Ranged, number][]) controller.tops[ranged] ??= top;
        return;
      case SENSORS_FOUR_BANKS:
        controller.fourBanks = true;
        return;
      case 0x00: {
        const supported = supportedIdentifiers(0, payload, at);
        if (supported.includes(SENSORS_FOUR_BANKS) && !supported.includes(SENSORS_TWO_BANKS)) controller.fourBanks = true;
      }
    }
  }

  private add(
    controller: Controller,
    identifier: number,
    part: number,
    value: number,
    timeS: number,
    tag: number,
    message: Message,
    byte: number,
    bytes: number,
  ): void {
    const key = (controller.index * 256 + identifier) * 4 + part;
    let index = this.channelOf.get(key);
    if (index === undefined) {
      if (this.channels.length === MOST_CHANNELS) {
        this.readingsLeftOut++;
        return;
      }
      this.channelOf.set(key, (index = this.channels.length));
      this.channels.push({ controller, identifier, part, count: 0, first: this.value.length, lastSample: -1 });
    }
    const channel = this.channels[index];
    // An answer says a thing once: what it says again has no moment of its own.
    if (channel.lastSample >= 0 && this.sampleTag.at(channel.lastSample) === tag) return;
    const sample = this.sampleAt(timeS, tag, channel.lastSample);
    channel.lastSample = sample;
    channel.count++;
    const place = placeIn(message, byte, bytes);
    this.channel.push(index);
    this.value.push(value);
    this.tag.push(place.tag);
    this.place.push(place.from | (place.bytes << 8));
  }

  private takeCodes(message: Message, state: AnsweredCode['state'], controller: Controller, timeS: number, tag: number): LeftOver {
    const { codes, short } = codesOfAnswer(message.payload, message.length);
    for (const { text, byte } of codes) {
      const key = `${controller.index} ${state} ${text}`;
      if (this.codesSeen.has(key) || this.codesSeen.size >= CODES_KEPT) continue;
      this.codesSeen.add(key);
      this.codes.push({ text, state, controller, sample: this.sampleAt(timeS, tag, -1), ...placeIn(message, byte, 2) });
    }
    return short ? { shortOf: message.payload[0] } : TAKEN;
  }

  /** The sample of an answer's time: the last one where the clock has not moved, unless that is `taken`. */
  private sampleAt(timeS: number, tag: number, taken: number): number {
    const last = this.timeS.length - 1;
    if (last >= 0 && this.timeS.at(last) === timeS && last !== taken) return last;
    this.timeS.push(timeS);
    this.sampleTag.push(tag);
    this.sampleFirst.push(this.value.length);
    return last + 1;
  }
}

const placeIn = (message: Message, byte: number, bytes: number): BytesPlace => {
  const piece = pieceOf(message, byte);
  const pieceEnd = piece + 1 < message.pieceStarts.length ? message.pieceStarts[piece + 1] : message.length;
  return {
    tag: message.pieceTags[piece],
    from: message.pieceBytes[piece] + byte - message.pieceStarts[piece],
    bytes: Math.min(bytes, pieceEnd - byte),
  };
};
