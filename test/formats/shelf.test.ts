// The shelf: what is at hand is not made again, what had no room is, and whoever goes through too much for it gets more room.

import assert from 'node:assert/strict';
import { Shelf } from '../../server/src/formats/shelf.js';

suite('the shelf', () => {
  const counting = (shelf: Shelf) => {
    const made: number[] = [];
    const get = shelf.each((of: number) => {
      made.push(of);
      return Float64Array.of(of);
    });
    return { made, get: (of: number) => get(of)[0] };
  };

  test('keeps those asked for last', () => {
    const { made, get } = counting(new Shelf(16));
    for (const of of [1, 2, 1, 3]) assert.equal(get(of), of);
    assert.deepEqual(made, [1, 2, 3]);
    assert.equal(get(1), 1);
    assert.equal(get(2), 2);
    assert.deepEqual(made, [1, 2, 3, 2], 'the one asked for longest ago had gone');
  });

  test('lets large ones go before small ones', () => {
    const shelf = new Shelf(8192);
    const made: string[] = [];
    const get = shelf.each((of: string) => {
      made.push(of);
      return new Float64Array(of === 'small' ? 1 : 512);
    });
    for (const of of ['small', 'a', 'b', 'c', 'small']) get(of);
    assert.deepEqual(made, ['small', 'a', 'b', 'c']);
    get('a');
    assert.deepEqual(made.slice(4), ['a'], 'the large one asked for longest ago had gone in its place');
  });

  test('what there is not is not asked for again', () => {
    let asked = 0;
    const shelf = new Shelf(),
      key = {};
    for (let k = 0; k < 2; k++)
      assert.equal(
        shelf.get(key, () => {
          asked++;
          return undefined;
        }),
        undefined,
      );
    assert.equal(asked, 1);
  });

  test('takes more room rather than make everything again and again', () => {
    const { made, get } = counting(new Shelf(16));
    for (let round = 0; round < 1000; round++) for (let of = 0; of < 8; of++) assert.equal(get(of), of);
    assert.ok(made.length < 400, `made ${made.length} of 8000`);
  });
});
