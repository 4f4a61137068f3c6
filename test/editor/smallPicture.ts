// Pictures for the package and the README out of what a scene shows: a part of the window in few colours, so that it weighs little.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { crc32 } from 'node:zlib';
import { zlibAsync } from '@gfx/zopfli';
import type { Page } from 'playwright-core';
import { pictureFolder } from './places.js';

export interface Box {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** Of a picture in the package: half a byte a pixel. */
const FEW = 16;
/** Of one in the README: a byte a pixel. */
export const MANY = 256;

/** Keeps a part of a page as `<name>.png`; `reader` is a page that may load what it is told to. */
export async function keepPicture(page: Page, reader: Page, name: string, clip: Box, colours = FEW): Promise<void> {
  const shot = await page.screenshot({ clip, animations: 'disabled' });
  const pixels = await reader.evaluate(pixelsOf, shot.toString('base64'));
  writeFileSync(join(pictureFolder, `${name}.png`), await pngOf(inFewColours(pixels, colours)));
}

interface Indexed {
  readonly width: number;
  readonly height: number;
  readonly colours: Colour[];
  readonly indices: number[];
}
type Colour = readonly [red: number, green: number, blue: number];

/** Runs in the page, which can read a PNG: its pixels, one number each. */
async function pixelsOf(base64: string): Promise<{ width: number; pixels: number[] }> {
  const image = new Image();
  image.src = `data:image/png;base64,${base64}`;
  await image.decode();
  const { width, height } = image;
  const canvas = new OffscreenCanvas(width, height).getContext('2d')!;
  canvas.drawImage(image, 0, 0);
  return { width, pixels: Array.from(new Uint32Array(canvas.getImageData(0, 0, width, height).data.buffer)) };
}

const colourOf = (pixel: number): Colour => [pixel & 255, (pixel >> 8) & 255, (pixel >> 16) & 255];
const apart = (a: Colour, b: Colour): number => (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2;

/** Each pixel as the nearest of the most frequent colours, which lie as far apart as leaves room for no more than the most. */
function inFewColours({ width, pixels }: { width: number; pixels: readonly number[] }, most: number): Indexed {
  const counts = new Map<number, number>();
  for (const pixel of pixels) counts.set(pixel, (counts.get(pixel) ?? 0) + 1);
  const frequent = [...counts].sort((a, b) => b[1] - a[1]).map(([pixel]) => colourOf(pixel));
  let colours = frequent;
  for (let least = 2; colours.length > most; least *= 1.3) {
    colours = [];
    for (const colour of frequent) if (colours.every((other) => apart(colour, other) > least)) colours.push(colour);
  }
  const nearest = new Map(
    [...counts.keys()].map((pixel) => {
      const colour = colourOf(pixel);
      return [pixel, colours.reduce((best, other, i) => (apart(colour, other) < apart(colour, colours[best]!) ? i : best), 0)];
    }),
  );
  return { width, height: pixels.length / width, colours, indices: pixels.map((pixel) => nearest.get(pixel)!) };
}

/** PNG (W3C, third edition): a palette, as many bits a pixel as it needs. */
async function pngOf({ width, height, colours, indices }: Indexed): Promise<Buffer> {
  const perByte = colours.length > FEW ? 1 : 2;
  const rowBytes = Math.ceil(width / perByte);
  const rows = Buffer.alloc((rowBytes + 1) * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++)
      rows[y * (rowBytes + 1) + 1 + Math.floor(x / perByte)]! |= indices[y * width + x]! << (perByte === 2 && x % 2 === 0 ? 4 : 0);
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  header.set([8 / perByte, 3, 0, 0, 0], 8);
  return Buffer.concat([
    Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'),
    chunk('IHDR', header),
    chunk('PLTE', Buffer.from(colours.flat())),
    chunk('IDAT', Buffer.from(await zlibAsync(rows, { numiterations: 100 }))),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

function chunk(type: string, data: Buffer): Buffer {
  const named = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const whole = Buffer.alloc(named.length + 8);
  whole.writeUInt32BE(data.length, 0);
  named.copy(whole, 4);
  whole.writeUInt32BE(crc32(named), named.length + 4);
  return whole;
}
