// Loaded before a program: kills it at one of its steps on the disk, before, in the middle of, or after it. `LEANSPOT_KILL_AT` is the step,
// counted from 0;
// without it the steps are counted and written to the file that `LEANSPOT_STEPS_TO` names.
import fs from 'node:fs';

const real = { writeSync: fs.writeSync, writeFileSync: fs.writeFileSync };
const killAt = process.env.LEANSPOT_KILL_AT === undefined ? -1 : Number(process.env.LEANSPOT_KILL_AT);
let step = 0;

const die = () => process.kill(process.pid, 'SIGKILL');
const point = () => {
  if (step++ === killAt) die();
};

for (const name of [
  'openSync',
  'writeFileSync',
  'fsyncSync',
  'linkSync',
  'renameSync',
  'chmodSync',
  'chownSync',
  'rmSync',
  'mkdirSync',
  'copyFileSync',
]) {
  const call = fs[name];
  fs[name] = (...parts) => {
    if (name === 'openSync' && !/[wa]/.test(String(parts[1] ?? 'r'))) return call(...parts);
    point();
    if (name === 'writeFileSync' && step++ === killAt) {
      const half = parts[1].subarray(0, parts[1].length >> 1);
      if (typeof parts[0] === 'number') real.writeSync(parts[0], half);
      else real.writeFileSync(parts[0], half, parts[2]);
      die();
    }
    const result = call(...parts);
    point();
    return result;
  };
}

if (process.env.LEANSPOT_STEPS_TO !== undefined) process.on('exit', () => real.writeFileSync(process.env.LEANSPOT_STEPS_TO, String(step)));
