// The service over a vehicle folder in memory: which file is what, what belongs together, and what each feature answers at a place.

import assert from 'node:assert/strict';
import { asMarkdown, asPlainText } from '../../server/src/service/editor/card.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace, ROOT } from '../support/memoryWorkspace.js';
import { SAMPLE_CAR, SAMPLE_TABLE, sampleDrive } from '../support/sampleDrive.js';

const car = (more = '') => {
  const workspace = memoryWorkspace(SAMPLE_CAR + more);
  return {
    workspace,
    service: createLanguageService(workspace),
    run: workspace.uri('sessions/run.session.csv'),
    ve: workspace.uri('tables/ve.table.csv'),
    vehicle: workspace.uri('vehicle.json'),
  };
};

/** Place of the `nth` occurrence of a text in a line. */
const placeOf = (text: string, line: number, what: string): { line: number; character: number } => ({
  line,
  character: text.split('\n')[line].indexOf(what),
});

/** CommonMark 0.31, 2.4: a backslash makes punctuation text. What is left without one may be no markup, and no autolink of GFM 6.9. */
function assertNoMarkup(markdown: string): void {
  const left = markdown.replace(/\\[!-/:-@[-`{-~]/g, '');
  assert.doesNotMatch(left, /[`<>[\]&$@]|:\/\/|(https?|ftp|mailto|xmpp|command):|www\./i);
  for (const line of left.split('\n')) {
    assert.doesNotMatch(line, /^( {4}|\t|\s*([-+*#]|\d+[.)])\s)/, 'a block of another kind');
    assert.ok(line.startsWith('|') ? line.match(/\|/g)!.length === 3 : !line.includes('|'), `columns of ${line}`);
  }
}

suite('service: files', () => {
  test('a file is known by its name, by its language, by the vehicle that lists it, by its head', async () => {
    const { service, workspace, run, ve, vehicle } = car(
      '=== plain.csv\nTime (s),Engine Speed (rpm)\n0,800\n=== bike.csv\nTime (s),Speed (km/h)\n0,12\n=== grid.csv\n# quantity: multiplier\n,1\n1,1\n=== extra/listed.csv\na,b\n1,2\n=== notes.md\n# x\n',
    );
    assert.deepEqual(await service.kindOf(run), { kind: 'session', from: 'name' });
    assert.deepEqual(await service.kindOf(ve), { kind: 'table', from: 'name' });
    assert.deepEqual(await service.kindOf(vehicle), { kind: 'vehicle', from: 'name' });
    assert.deepEqual(await service.kindOf(workspace.uri('plain.csv')), { kind: 'session', from: 'head' });
    assert.deepEqual(await service.kindOf(workspace.uri('grid.csv')), { kind: 'table', from: 'head' });
    assert.deepEqual(await service.kindOf(workspace.uri('extra/listed.csv')), { kind: 'session', from: 'vehicle' });
    assert.equal(await service.kindOf(workspace.uri('bike.csv')), undefined);
    assert.equal(await service.kindOf(workspace.uri('notes.md')), undefined);
    assert.equal(await service.kindOf(workspace.uri('none.csv')), undefined);
    workspace.languages.set(workspace.uri('bike.csv'), 'session-log');
    assert.deepEqual(await service.kindOf(workspace.uri('bike.csv')), { kind: 'session', from: 'language' });
  });

  test('a nested vehicle folder keeps its own files', async () => {
    const { service, workspace } = car(`=== other/vehicle.json\n{"name":"Other"}\n=== other/deep/b.session.csv\n${sampleDrive()}`);
    assert.equal((await service.vehicleFolder(workspace.uri('other/deep/b.session.csv')))?.uri, `${ROOT}/other`);
    assert.equal((await service.vehicleFolder(workspace.uri('sessions/run.session.csv')))?.uri, ROOT);
    const evidence = await service.weigher.evidence(workspace.uri('tables/ve.table.csv'));
    assert.deepEqual(
      evidence?.value.sessions.map(({ session }) => session),
      [workspace.uri('sessions/run.session.csv')],
    );
    assert.deepEqual(
      (await service.filesBelow(ROOT)).map(({ uri }) => uri.slice(ROOT.length + 1)),
      ['other/vehicle.json', 'vehicle.json', 'other/deep/b.session.csv', 'sessions/run.session.csv', 'tables/ve.table.csv'],
    );
  });

  test('a vehicle file above the open folder is not taken', async () => {
    const { workspace } = car();
    const vehicleOf = async (bounds: readonly string[], name: string) =>
      (await createLanguageService({ ...workspace, bounds }).vehicleFolder(workspace.uri(name)))?.uri;
    assert.equal(await vehicleOf([`${ROOT}/sessions`], 'sessions/run.session.csv'), undefined);
    for (const bounds of [[ROOT], [`${ROOT}/`], [`${ROOT}/sessions`, ROOT], [`${ROOT}/tables`], []])
      assert.equal(await vehicleOf(bounds, 'sessions/run.session.csv'), ROOT, bounds.join());
  });

  test('what a vehicle file names and the folder does not hold is told at its place', async () => {
    const { service, vehicle, workspace } = car();
    const text =
      '{ "tables": { "fuel": "gone.table.csv" },\n  "sessions": ["none/*.csv", { "files": "sessions/*.csv", "loggedWith": "old.table.csv" }] }';
    workspace.write('vehicle.json', text);
    const missing = (await service.check(vehicle))?.findings
      .filter(({ code }) => code === 'file-missing')
      .map(({ range, data }) => [range.start.line, range.start.character, data?.kind, data?.path]);
    const expected = (line: number, kind: string, path: string): unknown[] => [
      line,
      placeOf(text, line, `"${path}"`).character,
      kind,
      path,
    ];
    assert.deepEqual(
      missing?.sort(),
      [expected(0, 'table', 'gone.table.csv'), expected(1, 'sessions', 'none/*.csv'), expected(1, 'logged-with', 'old.table.csv')].sort(),
    );
  });

  test("tables under each other's key are told at their places", async () => {
    const { service, vehicle, workspace } = car();
    const grid = (quantity: string, value: number): string =>
      `# quantity: ${quantity}\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n, 800, 1600\n30, ${value}, ${value}\n60, ${value}, ${value}\n`;
    workspace.remove('tables/ve.table.csv');
    workspace.write('a.table.csv', grid('target lambda', 1));
    workspace.write('b.table.csv', grid('volumetric efficiency (%)', 50));
    const told = async (fuel: string, target: string): Promise<unknown> => {
      const text = `{ "tables": { "fuel": "${fuel}",\n "target": "${target}" } }`;
      workspace.write('vehicle.json', text);
      return (await service.check(vehicle))?.findings.map(({ code, severity, range: { start }, data }) => [
        code,
        severity,
        start.line,
        start.character === placeOf(text, start.line, start.line === 0 ? `"${fuel}"` : `"${target}"`).character,
        data?.holds,
      ]);
    };
    assert.deepEqual(await told('b.table.csv', 'a.table.csv'), []);
    assert.deepEqual(await told('a.table.csv', 'b.table.csv'), [
      ['vehicle-invalid', 'error', 0, true, 'target lambda'],
      ['vehicle-invalid', 'error', 1, true, 'volumetric efficiency'],
    ]);
    assert.deepEqual(await told('a.table.csv', 'a.table.csv'), [['vehicle-invalid', 'error', 0, true, 'target lambda']]);
  });
});

suite('service: caches', () => {
  test('a session is read once for all that is asked of it, and again when it or its vehicle changes', async () => {
    const { service, workspace, run } = car();
    await service.check(run);
    await service.hover(run, { line: 600, character: 2 });
    await service.documentSymbols(run);
    assert.equal(workspace.opened.get(run), 1);
    workspace.write(
      'vehicle.json',
      JSON.stringify({ name: 'Renamed', fuel: { blend: 'E85' }, tables: { fuel: 'tables/ve.table.csv' }, sessions: ['extra/*.csv'] }),
    );
    await service.check(run);
    assert.equal(workspace.opened.get(run), 1, 'a new name of the vehicle reads nothing again');
    workspace.write('vehicle.json', '{ "fuel": { "blend": "E10" } }');
    await service.check(run);
    assert.equal(workspace.opened.get(run), 2);
  });

  test('an edited cell is judged from sessions already weighed', async () => {
    const { service, workspace, run, ve } = car();
    const before = await service.weigher.evidence(ve);
    const cell = before?.value.cells.find(({ proof }) => proof !== 'none');
    assert.ok(cell, 'the drive visits some cell');
    const opened = workspace.opened.get(run);
    workspace.write('tables/ve.table.csv', SAMPLE_TABLE.replace('54.0', '59.4').replace('52.0', '57.2'));
    const after = await service.weigher.evidence(ve);
    assert.equal(workspace.opened.get(run), opened);
    // A hand edit makes old sessions say nothing about the new value: ×1.1 in the table is ÷1.1 in the factor.
    const edited = after?.value.cells[0];
    assert.ok(
      edited && Math.abs((edited.factor * 1.1) / before!.value.cells[0].factor - 1) < 1e-6,
      `${edited?.factor} after ${before?.value.cells[0].factor}`,
    );
  });
});

suite('service: features', () => {
  test('a reading of lambda is shown for the fuel in the tank and on the gasoline scale, with its target and cell', async () => {
    const { service, run } = car();
    const text = sampleDrive();
    const card = await service.hover(run, placeOf(text, 620, '1.0'));
    assert.ok(card);
    const rows = new Map(card.rows);
    // 1.02 × 14.7 = 14.99; E85 stoichiometric about 9.8 (reference: blend by mass of the parts' own ratios).
    assert.match(rows.get('AFR (gasoline scale)')!, /^1[45]\.\d\d$/);
    assert.ok(Math.abs(Number(rows.get('AFR (E85)')) - Number(rows.get('λ')) * 9.81) < 0.15, rows.get('AFR (E85)'));
    assert.match(rows.get('Target')!, /^λ 0\.850 \(logged\), \d+\.\d % leaner$/);
    assert.match(rows.get('Operating point')!, /rpm, \d+ kPa/);
    assert.match(
      rows.get('Fuelled by')!,
      /cell \d000 rpm, 180 kPa of ve\.table\.csv, \d+ ms earlier \(delay by a stated model: the session has not been weighed\)$/,
    );
    assert.deepEqual([card.range.start.line, card.range.end.line], [620, 620]);
  });

  test('a header says what the channel is and how it was read', async () => {
    const { service, run } = car();
    const card = await service.hover(run, placeOf(sampleDrive(), 0, 'Manifold'));
    assert.equal(card?.title, 'Manifold Pressure');
    assert.match(new Map(card!.rows).get('Quantity')!, /manifold pressure \(recognised by its name\)/);
    assert.match(new Map(card!.rows).get('Unit')!, /kPa \(from the header\)/);
  });

  test('a trouble code says what it means and what to check first, in its column and in a note', async () => {
    const text = '# trouble-codes: P0300\nTime (s),Engine Speed (rpm),Trouble Code\n0,800,\n1,820,P0171\n2,810,P0171\n';
    const { service, workspace } = car(`=== sessions/codes.session.csv\n${text}`);
    const uri = workspace.uri('sessions/codes.session.csv');
    const card = await service.hover(uri, placeOf(text, 4, 'P0171'));
    // SAE J2012: P0171 is "system too lean, bank 1".
    assert.match(asPlainText(card!), /^P0171\nP0171: .*bank 1.*lean/i);
    assert.match(asPlainText(card!), /First check /);
    assert.match((await service.hover(uri, placeOf(text, 0, 'P0300')))!.title, /P0300/);
  });

  test('text out of a file is never markup', () => {
    const card = {
      range: { start: { line: 0, character: 0 }, end: { line: 0, character: 1 } },
      title: '<img src=x> [a](command:x)',
      rows: [['*k*', '|v|']] as const,
      notes: ['`n`'],
    };
    assert.equal(
      asMarkdown(card),
      '**\\<img src=x\\> \\[a\\]\\(command\\:x\\)**\n\n| | |\n| --- | --- |\n| \\*k\\* | \\|v\\| |\n\n\\`n\\`',
    );
    assert.equal(asPlainText(card), '<img src=x> [a](command:x)\n*k*: |v|\n`n`');
  });

  test('a hostile header, cell, note or name is text in every hover, and no link', async () => {
    const hostile =
      '[x](https://evil.example) <img src=x onerror=y> [run](command:leanspot.restartServer) `code` ``` | 1. *b* www.evil.example a@evil.example ftp://evil.example &lt; $(bell)';
    const session = `# note: ${hostile}\n# trouble-codes: ${hostile}\nTime (s),Engine Speed (rpm),"${hostile}"\n0,800,"${hostile}"\n1,820,${hostile}\n`;
    const table = `# quantity: VE (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n# title: ${hostile}\n"${hostile}",1000,"${hostile}"\n40,50,"${hostile}"\n"${hostile}",60,70\n`;
    const vehicle = JSON.stringify({
      name: hostile,
      fuel: { blend: hostile },
      tables: { fuel: 'tables/bad.table.csv' },
      channels: { [hostile]: { quantity: 'lambda', unit: 'lambda' } },
    });
    const workspace = memoryWorkspace(
      `=== vehicle.json\n${vehicle}\n=== sessions/bad.session.csv\n${session}=== tables/bad.table.csv\n${table}`,
    );
    const service = createLanguageService(workspace);
    let quoting = 0;
    for (const [name, text] of [
      ['sessions/bad.session.csv', session],
      ['tables/bad.table.csv', table],
      ['vehicle.json', vehicle],
    ] as const) {
      for (const [line, words] of text.split('\n').entries()) {
        for (let character = 0; character < words.length; character += 5) {
          const card = await service.hover(workspace.uri(name), { line, character });
          if (!card) continue;
          if (asPlainText(card).includes('evil')) quoting++;
          assertNoMarkup(asMarkdown(card));
        }
      }
    }
    assert.ok(quoting > 0, 'no hover quotes the file');
    assertNoMarkup(
      asMarkdown({
        range: { start: { line: 0, character: 0 }, end: { line: 0, character: 1 } },
        title: hostile,
        rows: [[hostile, hostile]],
        notes: [hostile, `    ${hostile}`, `1. ${hostile}`, `- ${hostile}`],
      }),
    );
  });

  test('a breakpoint and a cell of a table explain themselves', async () => {
    const { service, ve } = car();
    const breakpoint = await service.hover(ve, placeOf(SAMPLE_TABLE, 7, '180'));
    assert.match(breakpoint!.title, /Row breakpoint, manifold pressure: 180 kPa/);
    assert.equal(new Map(breakpoint!.rows).get('bar'), '1.80');
    const cell = await service.hover(ve, placeOf(SAMPLE_TABLE, 4, '52.0'));
    assert.match(cell!.title, /52\.0 % in cell 2000 rpm, 40 kPa/);
    assert.match(asPlainText(cell!), /Factor: \d\.\d{3} \(95 % between/);
    assert.equal(await service.hover(ve, { line: 1, character: 3 }), undefined);
  });

  test('the outline holds channels, the recording and its pull with the worst moment', async () => {
    const { service, run, ve } = car();
    const [channels, recording] = await service.documentSymbols(run);
    assert.equal(channels.children?.length, 6);
    assert.equal(recording.children?.length, 1, 'one pull');
    const pull = recording.children![0];
    assert.match(pull.detail!, /rpm, 1(7[5-9]|80) kPa, worst λ 1\.0\d \(target 0\.85\)/);
    assert.ok(Math.abs(pull.range.start.line - 501) < 25 && Math.abs(pull.range.end.line - 651) < 25, 'about 20 s to 26 s');
    const [table] = await service.documentSymbols(ve);
    assert.deepEqual(
      table.children?.map(({ name }) => name),
      ['40 kPa', '80 kPa', '120 kPa', '180 kPa'],
    );
  });

  test('pulls fold, and have a call-out above them', async () => {
    const { service, run, ve } = car();
    const [pull] = await service.foldingRanges(run);
    const [lens] = await service.codeLenses(run);
    assert.equal(lens.range.start.line, pull.startLine);
    assert.match(lens.command!.title, /^Pull 1: /);
    assert.match((await service.codeLenses(ve))[0].command!.title, /^1 session, \d+ samples: \d+ of 20 cells proven/);
    assert.deepEqual(
      (await service.foldingRanges(ve)).map(({ startLine, endLine }) => [startLine, endLine]),
      [[0, 2]],
    );
  });

  test('from a row to the cell that fuelled it, and from the cell back to rows', async () => {
    const { service, run, ve } = car();
    const [link] = await service.definition(run, { line: 300, character: 12 });
    assert.equal(link.targetUri, ve);
    assert.deepEqual(
      link.targetRange,
      { start: { line: 4, character: 7 }, end: { line: 4, character: 11 } },
      'cruise at 2200 rpm and 45 kPa lies nearest 2000 rpm, 40 kPa',
    );
    const rows = await service.references(ve, link.targetRange.start);
    assert.ok(rows.length > 0 && rows.length <= 200);
    assert.ok(rows.every(({ uri }) => uri === run));
  });

  test('a selection grows from cell to row to pull to recording, each within the next', async () => {
    const { service, run } = car();
    let [range] = await service.selectionRanges(run, [{ line: 600, character: 9 }]);
    const heights: number[] = [];
    for (let each: typeof range | undefined = range; each; each = each.parent!) heights.push(each.range.end.line - each.range.start.line);
    assert.equal(heights.length, 4);
    assert.deepEqual(
      heights,
      [...heights].sort((a, b) => a - b),
    );
    [range] = await service.selectionRanges(run, [{ line: 0, character: 3 }]);
    assert.deepEqual(range.range.start, { line: 0, character: 3 });
  });

  test('a vehicle file: channels of the sessions and files that are there are offered, keys only where no schema is known', async () => {
    const { service, workspace, vehicle } = car('=== sessions/odd.session.csv\nTime (s),WB volts (V)\n0,1\n1,2\n');
    const ask = (text: string, schemaKnown = true) => {
      const offset = text.indexOf('$0');
      workspace.write('vehicle.json', text.replace('$0', ''));
      const before = text.slice(0, offset).split('\n');
      return service.completions(vehicle, { line: before.length - 1, character: before.at(-1)!.length }, schemaKnown);
    };
    assert.ok((await ask('{ "channels": { "$0" } }')).some(({ label }) => label === 'WB volts'));
    // In the long form, one that is first read behind the first lines.
    workspace.write(
      'sessions/odd.session.csv',
      `Time (s),Channel,Value\n${Array.from({ length: 20_000 }, (_, i) => `${i / 10},RPM,${2000 + (i % 7)}`).join('\n')}\n2000,Late pressure,4\n`,
    );
    const labels = (await ask('{ "channels": { "$0" } }')).map(({ label }) => label);
    assert.ok(
      ['RPM', 'Late pressure'].every((name) => labels.includes(name)),
      labels.join(),
    );
    assert.deepEqual(
      (await ask('{ "tables": { "fuel": "$0" } }')).map(({ label }) => label),
      ['tables/ve.table.csv'],
    );
    assert.deepEqual(
      (await ask('{ "sessions": ["$0"] }')).map(({ label }) => label),
      ['sessions/odd.session.csv', 'sessions/run.session.csv'],
    );
    assert.deepEqual(await ask('{ "engine": { "$0" } }'), []);
    assert.ok((await ask('{ "engine": { "$0" } }', false)).some(({ label }) => label === 'displacementL'));
    assert.deepEqual(
      (await ask('{ "lambdaSensor": { "mount": "$0" } }', false)).map(({ label }) => label),
      ['upstream', 'downstream', 'tailpipe'],
    );
  });

  test('paths of a vehicle file are links where the file is there', async () => {
    const { service, vehicle, ve } = car();
    assert.deepEqual(
      (await service.documentLinks(vehicle)).map(({ range, target }) => [range.start, range.end, target]),
      [[{ line: 3, character: 23 }, { line: 3, character: 42 }, ve]],
    );
  });

  test('nothing is answered for a file that is none of ours, whatever is asked', async () => {
    const { service, workspace } = car('=== notes.md\n# x\n');
    for (const uri of [workspace.uri('notes.md'), workspace.uri('gone.session.csv')]) {
      const at = { line: 0, character: 0 };
      assert.equal(await service.check(uri), undefined);
      assert.equal(await service.hover(uri, at), undefined);
      assert.deepEqual(
        [
          await service.documentSymbols(uri),
          await service.foldingRanges(uri),
          await service.codeLenses(uri),
          await service.definition(uri, at),
          await service.references(uri, at),
        ].flat(),
        [],
      );
    }
  });
});
