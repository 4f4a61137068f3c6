// The drawing of the lanes as a file: whole as XML, every number where it belongs, text as text, whatever names a log has.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { escaped, svgPicture, type DrawnLane, type DrawnPicture } from '../../client/webview/svgPicture.js';

const lane = (more: Partial<DrawnLane> = {}): DrawnLane => ({
  head: [{ name: 'Lambda', unit: 'λ', colour: '#56B4E9', dash: [] }],
  x: [0, 1, 2, 3, 4],
  heights: new Map([['λ', [0.8, 1.2]]]),
  spells: [],
  band: undefined,
  lines: [{ line: [0.8, 1, null, 1.2, 1], colour: '#56B4E9', dash: [], scale: 'λ' }],
  ...more,
});
const picture = (more: Partial<DrawnPicture> = {}): DrawnPicture => ({
  title: 'run.session.csv, 0:00 to 0:04',
  legend: [],
  lanes: [lane()],
  range: { from: 0, to: 4 },
  axisLabel: 'time',
  axisWords: (at) => `${at} s`,
  width: 400,
  laneHeight: 100,
  colours: {
    foreground: '#ccc',
    background: '#1f1f1f',
    grid: '#333',
    severity: { error: '#f00', warning: '#fa0', information: '#09f', hint: '#999' },
  },
  ...more,
});

/**
 * Tags that open and close in order, attributes in quotes, references that are numbers: what XML 1.0 asks of such a file. Throws otherwise.
 */
function checkXml(xml: string): void {
  const open: string[] = [];
  const rest = xml
    .replace(/^<\?xml [^>]*\?>/, '')
    .replace(/<(\/?)([a-z]+)((?: [a-zA-Z-]+="[^"<]*")*)(\/?)>/g, (_, closing: string, name: string, _attributes, empty: string) => {
      if (closing) assert.equal(open.pop(), name);
      else if (!empty) open.push(name);
      return '';
    });
  assert.deepEqual(open, []);
  assert.doesNotMatch(rest, /[<>]|&(?!#\d+;)/);
  // eslint-disable-next-line no-control-regex
  assert.doesNotMatch(xml, /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/);
}

suite('view: drawing as a file', () => {
  test('a line goes through its numbers and breaks where they do', () => {
    const xml = svgPicture(picture());
    checkXml(xml);
    // A lane begins 18 below its head and is 100 high: 0.8 is at 118, 1.2 at 18; four seconds are 400 wide.
    assert.match(xml, /d="M0 118L100 68M300 18L400 68"/);
    assert.doesNotMatch(xml, /NaN|undefined|Infinity/);
    assert.doesNotMatch(xml, /href|<script|<style|url\(/);
  });

  test('only what is shown, with the point before and behind it', () => {
    const xml = svgPicture(
      picture({
        range: { from: 2.9, to: 3.1 },
        lanes: [lane({ x: [0, 1, 2, 3, 4, 5], lines: [{ line: [1, 1, 1, 1.2, 1, 1], colour: '#fff', dash: [], scale: 'λ' }] })],
      }),
    );
    const points = /d="(M[^"]*)" fill="none"/.exec(xml)![1]!.split('L');
    assert.equal(points.length, 3);
  });

  test('spells, the band to the limit, runs by name', () => {
    const xml = svgPicture(
      picture({
        legend: [
          { name: 'Pull 1', colour: '#E69F00', dash: [] },
          { name: 'Pull 2, other.session.csv', colour: '#56B4E9', dash: [2, 3] },
        ],
        lanes: [
          lane({
            spells: [
              { fromS: 1, toS: 2, severity: 'error' },
              { fromS: 90, toS: 91, severity: 'error' },
            ],
            band: { target: 0, limitOf: (target) => target + 0.1 },
          }),
        ],
      }),
    );
    checkXml(xml);
    assert.equal(xml.match(/fill-opacity="0.16"/g)!.length, 1);
    assert.match(xml, /x="100" y="18" width="100" height="100" fill="#f00"/);
    assert.match(xml, /d="M0 118L100 68L100 43L0 93Z"/);
    assert.match(xml, />Pull 2, other\.session\.csv</);
  });

  test('names are text, never markup', () => {
    assert.equal(escaped('<b a="1">&\'\u0000\ud800x'), '&#60;b a=&#34;1&#34;&#62;&#38;&#39;x');
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), fc.string({ unit: 'binary' }), (name, unit) => {
        checkXml(
          svgPicture(
            picture({
              title: name,
              legend: [{ name, colour: unit, dash: [7, 4] }],
              lanes: [lane({ head: [{ name, unit, colour: name, dash: [] }] })],
              axisLabel: unit,
              axisWords: () => name,
            }),
          ),
        );
      }),
    );
  });

  test('nothing to draw is a drawing all the same', () => {
    for (const lanes of [
      [],
      [lane({ x: [], lines: [] })],
      [lane({ heights: new Map() })],
      [lane({ lines: [{ line: [null, null], colour: '#fff', dash: [], scale: 'λ' }] })],
    ]) {
      const xml = svgPicture(picture({ lanes }));
      checkXml(xml);
      assert.doesNotMatch(xml, /NaN/);
    }
  });
});
