// A long text that is opened is read from its message's bytes as `JSON.parse` reads it, however its sender has written it, and every other
// message as well.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { TextDocument } from 'vscode-languageserver-textdocument';
import { longMessages } from '../../server/src/lsp/longMessages.js';
import { LongText, type ArrivedText } from '../../server/src/lsp/longText.js';

/** Bytes from which a body is long here. */
const LONG = 40;
const decode = (json: string | Uint8Array): Promise<unknown> => longMessages(LONG).decode(Buffer.from(json), { charset: 'utf-8' });
const textIn = (message: unknown): string | ArrivedText =>
  (message as { params: { textDocument: { text: string | ArrivedText } } }).params.textDocument.text;
/** As whoever logs it has it. */
const plain = (message: unknown): unknown => JSON.parse(JSON.stringify(message));

/** A text, and a string of JSON that stands for it: each sign as it is, by its short escape or by its number. */
const written = fc
  .array(
    fc.tuple(
      fc.oneof(
        {
          weight: 200,
          arbitrary: fc.constantFrom(
            'a',
            '7',
            ',',
            '\n',
            '\r\n',
            '"',
            '\\',
            '/',
            '\t',
            '\b',
            '\f',
            '\0',
            '°',
            'µ',
            '日',
            '😀',
            '\ufeff',
            '\u2028',
            '\\u0041',
            'b'.repeat(30),
          ),
        },
        { weight: 1, arbitrary: fc.constantFrom('\ud83d', '\ude00') },
      ),
      fc.nat(2),
    ),
    { maxLength: 60, size: 'max' },
  )
  .map((signs) => ({
    text: signs.map(([sign]) => sign).join(''),
    json: signs
      .map(([sign, way]) => {
        const asNumbers = Array.from({ length: sign.length }, (_, at) => `\\u${sign.charCodeAt(at).toString(16).padStart(4, '0')}`).join(
          '',
        );
        const isHalf = /\p{Surrogate}/u.test(sign);
        return way === 0 || isHalf
          ? asNumbers
          : way === 1
            ? JSON.stringify(sign).slice(1, -1).replaceAll('/', '\\/')
            : JSON.stringify(sign)
                .slice(1, -1)
                .replace(/\\u[0-9a-f]{4}/g, (each) => each.toUpperCase().replace('\\U', '\\u'));
      })
      .join(''),
  }));

/** An object's members in any order, with blanks around them. */
const object = (members: readonly string[]): fc.Arbitrary<string> =>
  fc
    .tuple(fc.shuffledSubarray([...members], { minLength: members.length }), fc.constantFrom('', ' ', '\n\t'))
    .map(([all, blank]) => `{${blank}${all.join(`${blank},${blank}`)}${blank}}`);
const opening = (json: string): fc.Arbitrary<string> =>
  object(['"uri":"file:///a\\"b"', '"languageId" : "x"', '"version":1', `"text":"${json}"`])
    .chain((document) => object([`"textDocument":${document}`]))
    .chain((params) => object(['"jsonrpc":"2.0"', '"method":"textDocument\\/didOpen"', `"params":${params}`]));

suite('long messages', () => {
  test('an opened text is what JSON.parse says, whatever is escaped in it and how', async () => {
    let asBytes = 0;
    await fc.assert(
      fc.asyncProperty(
        written.chain((each) => opening(each.json).map((json) => ({ ...each, json }))),
        async ({ text, json }) => {
          const message = await decode(json),
            got = textIn(message);
          assert.deepEqual(plain(message), plain(JSON.parse(json)));
          if (typeof got === 'string') return void assert.equal(got, text);
          asBytes++;
          assert.deepEqual(got.bytes, new Uint8Array(Buffer.from(text)), 'its bytes are UTF-8, and no Buffer');
          const long = new LongText('file:///a', 'x', 1, got, 7),
            reference = TextDocument.create('file:///a', 'x', 1, text);
          assert.equal(long.size, Buffer.byteLength(text));
          assert.deepEqual([long.lineCount, long.length, long.getText()], [reference.lineCount, text.length, text]);
          const last = { start: { line: 0, character: 0 }, end: { line: 0, character: 0 } };
          assert.equal(long.update([{ range: last, text: '#' }], 2).getText(), `#${text}`);
          assert.equal(Buffer.from(long.source().read(0, Infinity)).toString(), `#${text}`);
        },
      ),
      { numRuns: 2000 },
    );
    assert.ok(asBytes > 500, `${asBytes} came as bytes`);
  });

  test('half a surrogate pair, which UTF-8 cannot say, comes as a string', async () => {
    const json = `{"method":"textDocument/didOpen","params":{"textDocument":{"text":"\\n°${'a'.repeat(LONG)}\\ud83d\\u0041\\n"}}}`;
    assert.deepEqual(await decode(json), JSON.parse(json));
  });

  test('any other long message is read as ever', async () => {
    const long = 'a\\n'.repeat(LONG);
    for (const json of [
      `{"method":"textDocument/didSave","params":{"textDocument":{"text":"${long}"}}}`,
      `{"method":"textDocument/didOpen","params":{"textDocument":{"uri":"${long}","text":"${long}"}}}`,
      `{"method":"textDocument/didOpen","params":{"textDocument":{"text":"${long}","text":"b"}}}`,
      `{"method":"textDocument/didOpen","params":{"textDocument":{"text":{"text":"${long}"}}}}`,
      `{"method":"textDocument/didOpen","params":{"text":"${long}"}}`,
      `{"method":"textDocument/didOpen","params":{"textDocument":null,"text":"${long}"}}`,
      `["${long}"]`,
      `"${long}"`,
      `{"id":1,"result":[${'1, '.repeat(LONG)}1]}`,
      `{"id":1,"result":"\\""${' '.repeat(LONG)}}`,
    ])
      assert.deepEqual(await decode(json), JSON.parse(json), json);
    const last = `{"method":"textDocument/didOpen","params":{"textDocument":{"text":"b","text":"${long}"}}}`;
    assert.deepEqual(plain(await decode(last)), JSON.parse(last));
  });

  test('what is no JSON is refused, and bytes that are no text are read as ever', async () => {
    const head = '{"method":"textDocument/didOpen","params":{"textDocument":{"text":"',
      long = 'a'.repeat(LONG);
    for (const bad of [
      `${head}${long}`,
      `${head}${long}"}}`,
      `${head}${long}\\x"}}}`,
      `${head}${long}\\u12"}}}`,
      `${head}\\u12G4${long}"}}}`,
      `${head}${long}\\ud83d\\u12"}}}`,
      `${head}${long}" "b"}}}`,
    ]) {
      await assert.rejects(decode(bad), SyntaxError, bad);
    }
    const torn = Buffer.concat([Buffer.from(`${head}${long}`), Buffer.of(0xb0), Buffer.from('"}}}')]);
    assert.equal(textIn(await decode(torn)), `${long}\ufffd`);
  });
});
