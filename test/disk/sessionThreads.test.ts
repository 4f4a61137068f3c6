// Sessions on other threads: the same is found there as here, and work that nobody wants any more ends.

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { fileSource } from '../../server/src/disk/fileSource.js';
import { sessionThreads, type SessionThreads } from '../../server/src/disk/sessionThreads.js';
import { diskWorkspace, uriOf } from '../../server/src/disk/diskWorkspace.js';
import { withSharedColumns } from '../../server/src/disk/sharedColumns.js';
import { bytesSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { atOnce } from '../../server/src/fueling/pieces.js';
import { tallying } from '../../server/src/fueling/solution/tally.js';
import type { SessionEvidence } from '../../server/src/fueling/weigh.js';
import { createFileService } from '../../server/src/service/fileService.js';
import { readToAsk, workOnSession, type SessionTask, type SessionWork } from '../../server/src/service/sessionWork.js';
import { threadProgram } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { twoLoggerCar, twoLogs } from '../support/twoLoggerCar.js';
import { LEAN_CAR, SAMPLE_TABLE, sampleDrive } from '../support/sampleDrive.js';

async function withThreads(use: (threads: SessionThreads, folder: string, task: SessionTask) => Promise<void>, count = 2): Promise<void> {
  await inFolder(LEAN_CAR, async (folder) => {
    const threads = sessionThreads(count, await threadProgram());
    try {
      const table = readFileSync(join(folder, 'tables/ve.table.csv'), 'utf8');
      await use(threads, folder, {
        uri: uriOf(join(folder, 'sessions/cruise [1].session.csv')),
        vehicle: EMPTY_VEHICLE,
        weigh: { table, isAssumed: true },
      });
    } finally {
      threads.dispose();
    }
  });
}

suite('session threads', () => {
  test('the same is found there as here, from the disk and from an open text', async () => {
    await withThreads(async (threads, folder, task) => {
      const path = join(folder, 'sessions/cruise [1].session.csv');
      const { found, weigh } = workOnSession({ own: fileSource(path)! }, task);
      assert.ok(found!.session.samples > 0);
      for (const bytes of [undefined, new Uint8Array(readFileSync(path))]) {
        const there = await threads.work(task, bytes);
        assert.deepEqual(there.found, found);
        assert.deepEqual(await there.evidence, weigh!());
      }
      const { weigh: _, ...judged } = task;
      assert.deepEqual(await threads.work(judged), { found });
      const { found: judgedToo, evidence } = await threads.work({ ...task, weigh: { ...task.weigh!, alone: true } });
      assert.equal(judgedToo, undefined, 'the evidence alone');
      assert.deepEqual(await evidence, weigh!());
    });
  });

  test('what the evidence of sessions comes to is the same there as here, of what a thread weighed and of what was kept', async () => {
    await withThreads(async (threads, _folder, task) => {
      const weighed = await (await threads.work({ ...task, weigh: { ...task.weigh!, alone: true } })).evidence!,
        { blocks, timeS } = weighed;
      assert.ok(timeS.buffer instanceof SharedArrayBuffer && blocks.cell.buffer === timeS.buffer, 'handed on as it lies');
      const kept = {
        ...weighed,
        blocks: { ...blocks, lnRequired: Float64Array.from(blocks.lnRequired, (ln) => ln + 0.1) },
        timeS: Float64Array.from(timeS),
      };
      for (const list of [[weighed], [weighed, kept]]) assert.deepEqual(await threads.tally(list), structuredClone(atOnce(tallying(list))));
      await assert.rejects(threads.tally([{} as SessionEvidence]));
      const ended = threads.tally([weighed]).catch((error: Error) => error.message);
      threads.cancel();
      assert.equal(await ended, 'cancelled');
    });
  });

  test('columns lie in memory that threads share, and all else is as it was', () => {
    const data = {
        name: 'a',
        count: 3,
        list: ['x'],
        missing: undefined,
        none: null,
        whole: Int32Array.of(1, 2, 3),
        more: { part: Float64Array.of(0.5, NaN), nothing: new Float64Array(0) },
      },
      shared = withSharedColumns(data);
    assert.deepEqual(shared, data);
    assert.ok(shared.whole.buffer instanceof SharedArrayBuffer && shared.more.part.buffer === shared.whole.buffer);
    shared.whole[2] = 7;
    assert.deepEqual([data.whole[2], shared.more.part[0]], [3, 0.5], 'apart from each other and from what they were made of');
  });

  test('a thread that stands ready does the first work', async () => {
    await withThreads(async (threads, _folder, task) => {
      threads.keepReady();
      threads.keepReady();
      assert.ok((await threads.work(task)).found!.session.samples > 0);
      threads.cancel();
      assert.ok((await threads.work(task)).found!.session.samples > 0);
    });
  });

  test('where a program cannot be loaded whoever asks is told so, and waits for none that should stand ready', async () => {
    const threads = sessionThreads(1, new URL('data:text/javascript,throw new Error("cannot be loaded")'));
    threads.keepReady();
    await assert.rejects(threads.work({ uri: 'file:///a.session.csv', vehicle: EMPTY_VEHICLE }), /cannot be loaded/);
  });

  test('files begin when also what is shown of an open text was told', async () => {
    // A thread that judges at once and takes its time for the views.
    const program = `import { parentPort } from 'node:worker_threads';
      parentPort.on('message', ({ id, bytes }) => {
        const tell = (answer) => parentPort.postMessage({ id, answer });
        tell({ found: {}, shows: bytes !== undefined, weighs: false });
        setTimeout(() => { if (bytes) tell({ views: {} }); tell('ended'); }, bytes ? 500 : 0);
      });`;
    const threads = sessionThreads(2, new URL(`data:text/javascript,${encodeURIComponent(program)}`)),
      order: string[] = [];
    const said = (name: string) => (): void => {
      order.push(name);
    };
    const open = threads.work({ uri: 'file:///open.session.csv', vehicle: EMPTY_VEHICLE, shows: true }, new Uint8Array(1)),
      file = threads.work({ uri: 'file:///file.session.csv', vehicle: EMPTY_VEHICLE }).then(said('file'));
    const views = (await open).views!.then(said('views'));
    said('found')();
    await Promise.all([views, file]);
    assert.deepEqual(order, ['found', 'views', 'file']);
    threads.dispose();
  });

  test('a file that is not there is told with its code', async () => {
    await withThreads(async (threads, folder, task) => {
      await assert.rejects(threads.work({ ...task, uri: uriOf(join(folder, 'none.session.csv')) }), { code: 'WENT-AWAY' });
    });
  });

  test('of an open text only the last state that waits is worked on, before what lies on disk', async () => {
    await withThreads(async (threads, folder, task) => {
      const bytes = (): Uint8Array => new Uint8Array(readFileSync(join(folder, 'sessions/cruise [1].session.csv')));
      const order: string[] = [];
      const said = (name: string) => (): void => {
        order.push(name);
      };
      const running = [threads.work(task), threads.work(task), threads.work(task, bytes()), threads.work(task, bytes())],
        waits = threads.work(task).then(said('disk'));
      const earlier = threads.work(task, bytes()).catch((error: Error) => error.message),
        last = threads.work(task, bytes()).then(said('open'));
      assert.equal(await earlier, 'cancelled');
      await Promise.all([...running, waits, last]);
      assert.deepEqual(order.sort(), ['disk', 'open']);
    });
  });

  test('who asks of an open text something else than another waits beside him', async () => {
    await withThreads(async (threads, folder, task) => {
      const bytes = (): Uint8Array => new Uint8Array(readFileSync(join(folder, 'sessions/cruise [1].session.csv')));
      const running = [1, 2, 3].map(() => threads.work({ ...task, uri: `${task.uri}.other` }, bytes()).catch(() => undefined));
      const check = threads.work(task, bytes()),
        alone = threads.work({ ...task, weigh: { table: SAMPLE_TABLE, isAssumed: false, alone: true } }, bytes());
      const samples = [100, 200].map((line) => threads.ask(task, { about: 'sample', asked: { line } } as const, false, bytes()));
      assert.ok((await check).found);
      assert.ok(await (await alone).evidence);
      const [first, second] = await Promise.all(samples);
      assert.deepEqual([first?.said?.line, second?.said?.line], [100, 200]);
      await Promise.all(running);
    });
  });

  test('a question about a file is answered before the files that wait, and again while the file is at hand', async () => {
    await withThreads(async (threads, _folder, task) => {
      const order: string[] = [];
      const files = Array.from({ length: 8 }, () =>
        threads.work(task).then(() => {
          order.push('disk');
        }),
      );
      const recordings = { about: 'recordings', asked: null } as const,
        asked = threads.ask(task, recordings, true).then((each) => {
          order.push('asked');
          return each;
        });
      await Promise.all(files);
      assert.ok(order.indexOf('asked') < 5, `after ${order.indexOf('asked')} of ${order.length - 1} files`);
      const { said, ask } = await asked,
        here = readToAsk({ own: fileSource(fileURLToPath(task.uri))! }, task);
      assert.ok(said.length > 0);
      assert.deepEqual(said, here.answer(recordings));
      for (const line of [100, 200]) {
        const sample = { about: 'sample', asked: { line } } as const;
        assert.deepEqual(await ask('sample', sample.asked), here.answer(sample));
      }
      const hill = fileURLToPath(new URL('../../samples/bramble-coupe/sessions/hill.session.csv', import.meta.url)),
        facts = { about: 'facts', asked: SAMPLE_TABLE } as const;
      const told = readToAsk({ own: fileSource(hill)! }, { ...task, uri: uriOf(hill) }).answer(facts);
      assert.ok(told.pulls.length > 0 && told.pulls[0].curves.rpm.length > 0 && told.peaks.rpm! > 0);
      assert.deepEqual((await threads.ask({ ...task, uri: uriOf(hill) }, facts, false)).said, told);
      const once = await threads.ask({ ...task, uri: task.uri.replace('cruise', 'none') }, recordings, false).catch(() => undefined);
      assert.equal(once, undefined, 'another file, which is not there');
    });
  });

  test('a log that grows on the disk, and one that is written anew there, is what it is when read here', async () => {
    await withThreads(async (threads, folder, task) => {
      const path = join(folder, 'sessions/grows.session.csv'),
        { weigh: _, ...judge } = { ...task, uri: uriOf(path) },
        [head, ...rows] = sampleDrive({ leanest: 1.2 }).split(/(?<=Lambda.*\n)/);
      const text = head + rows.join('').repeat(30);
      assert.ok(text.length > 500_000, 'longer than a head');
      // Grown, grown, cut, written anew, grown.
      for (const state of [
        text.slice(0, 400_000),
        text.slice(0, 450_001),
        text,
        text.slice(0, 420_000),
        `# anew\n${text}`,
        `# anew\n${text}${rows.join('')}`,
      ]) {
        writeFileSync(path, state);
        assert.deepEqual((await threads.work(judge)).found, workOnSession({ own: fileSource(path)! }, judge).found);
      }
    });
  });

  test('an open log that grows is what it is when read here, told so or not, and where it did not only grow', async () => {
    await withThreads(async (threads, folder, task) => {
      const { weigh: _, ...judge } = { ...task, uri: uriOf(join(folder, 'sessions/open.session.csv')), shows: true } as const,
        [head, ...rows] = sampleDrive({ leanest: 1.2 }).split(/(?<=Lambda.*\n)/),
        text = head + rows.join('').repeat(6);
      assert.ok(text.length > 100_000, 'longer than a head');
      const recordings = { about: 'recordings', asked: null } as const;
      for (const [state, grows] of [
        [0.7, false],
        [0.75, true],
        [0.8, true],
        [1, true],
        [0.72, true],
        [0.9, false],
      ] as const) {
        const bytes = new TextEncoder().encode(text.slice(0, state * text.length)),
          here = workOnSession({ own: bytesSource(bytes) }, judge);
        const { found, ask } = await threads.work(judge, bytes.slice(), undefined, grows);
        assert.deepEqual(found, here.found);
        assert.deepEqual(await ask!('recordings', null), here.answer!(recordings));
      }
    });
  });

  test('two loggers of one drive are joined there as they are here, for findings, evidence and what is asked', async () => {
    await withThreads(async (threads) => {
      await inFolder(twoLoggerCar(twoLogs(20_261_128), ', "join": [["ecu.session.csv", "wideband.session.csv"]]'), async (folder) => {
        const tasks: SessionTask[] = [],
          workspace = diskWorkspace([uriOf(folder)]),
          uri = uriOf(join(folder, 'ecu.session.csv'));
        const there = createFileService(workspace, {
            elsewhere: (each) => {
              tasks.push(each);
              return threads.work(each);
            },
            askElsewhere: (each, question, _open, keeps) => {
              tasks.push(each);
              return threads.ask(each, question, keeps);
            },
          }),
          here = createFileService(workspace);
        const [found, expected] = [await there.check(uri), await here.check(uri)];
        assert.ok(expected!.session!.channels > 6);
        assert.deepEqual(found, expected);
        const of = (service: typeof here) =>
          Promise.all([
            service.documents.joined(uri),
            service.documents.ask(uri, 'picture', null),
            service.check(uriOf(join(folder, 'vehicle.json'))),
          ]);
        const all = await of(there);
        assert.ok(all[0] && 'how' in all[0]);
        assert.deepEqual(all, await of(here));
        assert.deepEqual(
          tasks.map(({ joins }) => joins?.path),
          Array(tasks.length).fill('wideband.session.csv'),
        );
        assert.ok(tasks.length >= 2);
      });
    });
  });

  test('of an open text each table is weighed that was asked for, and of one table the last state', async () => {
    await withThreads(async (threads, folder, task) => {
      const bytes = (): Uint8Array => new Uint8Array(readFileSync(join(folder, 'sessions/cruise [1].session.csv'))),
        alone = { ...task, weigh: { ...task.weigh!, alone: true as const } };
      const other = { ...alone, weigh: { ...alone.weigh, loggedWith: { name: 'before', table: alone.weigh.table.replace('2', '3') } } };
      const asked = [task, other, alone, alone].map((each) => threads.work(each, bytes()));
      assert.deepEqual(
        (await Promise.allSettled(asked)).map(({ status }) => status),
        ['fulfilled', 'fulfilled', 'rejected', 'fulfilled'],
      );
    }, 1);
  });

  test('an open text waits for no file', async () => {
    await withThreads(async (threads, folder, task) => {
      const order: string[] = [];
      const files = Array.from({ length: 20 }, () =>
        threads.work(task).then(async ({ evidence }) => {
          await evidence;
          order.push('disk');
        }),
      );
      const open = threads.work(task, new Uint8Array(readFileSync(join(folder, 'sessions/cruise [1].session.csv')))).then(() => {
        order.push('open');
      });
      await Promise.all([...files, open]);
      assert.ok(order.indexOf('open') < 10, order.join(' '));
    });
  });

  test('a thread sets its file aside for an open text, and finds in both what is there', async () => {
    await withThreads(async (threads, folder, task) => {
      const path = join(folder, 'sessions/cruise [1].session.csv'),
        order: string[] = [];
      const work = async (name: string, bytes?: Uint8Array): Promise<void> => {
        const { found, evidence } = await threads.work(task, bytes);
        order.push(name);
        const here = workOnSession({ own: fileSource(path)! }, task);
        assert.deepEqual([found, await evidence], [here.found, here.weigh!()]);
      };
      await Promise.all([work('disk'), work('disk'), work('open', new Uint8Array(readFileSync(path)))]);
      assert.deepEqual(order, ['open', 'disk', 'disk']);
    }, 1);
  });

  test('files rest for what is open, and no thread waits for itself', async () => {
    await withThreads(async (threads, folder, task) => {
      threads.keepReady();
      const bytes = (): Uint8Array => new Uint8Array(readFileSync(join(folder, 'sessions/cruise [1].session.csv'))),
        order: string[] = [];
      const work = async (name: string, uri: string, ...open: Uint8Array[]): Promise<void> => {
        const { evidence } = await threads.work({ ...task, uri }, ...open);
        order.push(name);
        assert.ok((await evidence)!.weight);
      };
      const files = Array.from({ length: 6 }, () => work('disk', task.uri)),
        texts = ['a', 'b', 'c', 'd'].map((name) => work('open', `file:///${name}.session.csv`, bytes()));
      await Promise.all([...files, ...texts]);
      assert.ok(order.lastIndexOf('open') < 7, order.join(' '));
      await threads.work(task);
    }, 1);
  });

  test('a thread answers about the open text that it worked on last, also while it is at work', async () => {
    await withThreads(async (threads, folder, task) => {
      const path = join(folder, 'sessions/cruise [1].session.csv'),
        open = { ...task, shows: true } as const;
      const work = async (): Promise<SessionWork> => threads.work(open, new Uint8Array(readFileSync(path)));
      const first = await work(),
        asked = { position: { line: 200, character: 8 } },
        here = workOnSession({ own: fileSource(path)! }, open).answer!({ about: 'hover', asked });
      assert.ok(here.card);
      const busy = threads.work(task);
      assert.deepEqual(await first.ask!('hover', asked), here);
      assert.equal((await busy).ask, undefined, 'about a file nothing is asked');
      const second = await work();
      assert.deepEqual(await second.ask!('hover', asked), here);
      await assert.rejects(first.ask!('hover', asked));
      threads.dispose();
      await assert.rejects(second.ask!('hover', asked));
    }, 1);
  });

  test('cancelling ends what is at hand and what waits; new work follows', async () => {
    await withThreads(async (threads, _folder, task) => {
      const all = Array.from({ length: 5 }, () => threads.work(task));
      const ended = Promise.allSettled(all);
      threads.cancel();
      assert.deepEqual(
        (await ended).map(({ status }) => status),
        Array(5).fill('rejected'),
      );
      assert.ok((await threads.work(task)).found!.session.samples > 0);
    });
  });
});
