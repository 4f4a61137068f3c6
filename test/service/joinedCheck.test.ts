// What is told in the file of a second logger that is read with the first: nothing of what the first's file tells of its channels, and all
// of what it does not take over.

import assert from 'node:assert/strict';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { twoLoggerCar, twoLogs, type TwoLogs } from '../support/twoLoggerCar.js';

/** The wideband at its lean stop, λ 1.60 (AFR 23.52 on the gasoline scale), for the second half of each minute. */
const atItsStop = ({ wideband, ...logs }: TwoLogs): TwoLogs => ({
  ...logs,
  wideband: wideband.replace(/^(\d+);\d+,\d+;/gm, (row, ms: string) => ((Number(ms) / 1000) % 60 < 30 ? row : `${ms};23,520;`)),
});

suite('service: the file of a joined logger', function () {
  this.timeout(30000);
  const join = ', "lambdaSensor": { "range": [0.65, 1.6] }, "join": [["ecu.session.csv", "wideband.session.csv"]]';
  const clippedIn = async (logs: TwoLogs): Promise<string[]> => {
    const workspace = memoryWorkspace(twoLoggerCar(logs, join)),
      service = createLanguageService(workspace),
      found: string[] = [];
    for (const file of ['ecu', 'wideband'])
      for (const { code } of (await service.check(workspace.uri(`${file}.session.csv`)))!.findings)
        if (code === 'channel-clipped') found.push(file);
    return found;
  };

  test('a sensor at its stop is told once, and in its own file where the first logger has another lambda', async () => {
    const logs = atItsStop(twoLogs(5));
    assert.deepEqual(await clippedIn(logs), ['ecu']);
    const ecu = logs.ecu
      .trimEnd()
      .split('\n')
      .map((row, at) => (at === 0 ? `${row},Lambda (λ)` : `${row},${(1 + 0.01 * Math.sin(at * 2.3)).toFixed(3)}`))
      .join('\n');
    assert.deepEqual(await clippedIn({ ...logs, ecu: `${ecu}\n` }), ['wideband']);
  });

  test('air in an overrun, which the wideband alone takes for a torn wire, is no dropout; a torn wire is told once, beside the load', async () => {
    const { offsetS, fast, ...logs } = twoLogs(5);
    // The engine computer's clock: closed throttle for 4 s each, and the sensor in air; from 150 s on its wire is off for 3 s.
    const isOverrun = (ecuS: number): boolean => [100, 200, 300].some((begin) => ecuS >= begin && ecuS < begin + 4);
    const ecu = logs.ecu.replace(/^([\d.]+),(\d+),[\d.]+,[\d.]+,/gm, (row, at: string, rpm: string) =>
      isOverrun(Number(at)) ? `${at},${rpm},24.0,0.0,` : row,
    );
    const dropouts = async (isTorn: boolean): Promise<string[]> => {
      const wideband = logs.wideband.replace(/^(\d+);\d+,\d+;/gm, (row, ms: string) => {
        const ecuS = offsetS + Number(ms) / 1000 / (1 + fast);
        return isOverrun(ecuS - 0.2) ? `${ms};23,520;` : isTorn && ecuS > 150 && ecuS < 153 ? `${ms};0,000;` : row;
      });
      const workspace = memoryWorkspace(
          twoLoggerCar({ ...logs, offsetS, fast, ecu, wideband }, join.replace(/ "lambdaSensor[^}]*\},/, '')),
        ),
        service = createLanguageService(workspace),
        found: string[] = [];
      for (const file of ['ecu', 'wideband'])
        for (const { code } of (await service.check(workspace.uri(`${file}.session.csv`)))!.findings)
          if (code === 'sensor-dropout') found.push(file);
      return found;
    };
    assert.deepEqual(await dropouts(false), []);
    assert.deepEqual(await dropouts(true), ['ecu']);
  });
});
