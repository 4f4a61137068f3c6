// file-missing: vehicle.json names a table or sessions that are not there, or a session's note a table.

import type { Problem } from '../../formats/problem.js';
import type { Finding, Rule, Severity } from '../finding.js';

const words = ({ kind, data }: Problem): readonly [Severity, string] => {
  const path = `"${String(data.path ?? '')}"`;
  switch (kind) {
    case 'sessions':
      return ['warning', `No file matches ${path}. Check the folder and the ending; paths begin at the folder of vehicle.json.`];
    case 'logged-with':
      return [
        'error',
        `There is no table ${path}, with which these sessions are said to have been logged. Until it is there they give no evidence.`,
      ];
    case 'session':
      return ['error', `There is no session ${path} to be joined. Check the name; paths begin at the folder of vehicle.json.`];
    case 'outside':
      return ['error', `${path} leads out of the folder of this vehicle and is not read. Copy the file into it.`];
    default:
      return ['error', `There is no table ${path}. Check the name; paths begin at the folder of vehicle.json.`];
  }
};

const findingsOf = (problems: readonly Problem[]): Finding[] =>
  problems
    .filter(({ code }) => code === 'file-missing')
    .map((problem) => {
      const [severity, message] = words(problem);
      return { code: 'file-missing', severity, range: problem.range, message, data: { kind: problem.kind, ...problem.data } };
    });

export const rule: Rule = {
  code: 'file-missing',
  docs: {
    title: 'A named file is not there',
    meaning:
      'vehicle.json names a table or sessions, or a session\'s note "# logged-with" a table, that cannot be found, so nothing is said of them: neither is the table weighed nor are the sessions evidence.',
    computed:
      'Every path of "tables", "loggedWith" and "join" is looked up, every glob of "sessions" has to match at least one file, all from the folder of vehicle.json; so is the path of a session\'s note "# logged-with". A path that leaves the folder, also by a link, is not followed.',
    causes: [
      'The file was renamed, moved or not copied along',
      'A slip in the path, or a path that begins at another folder',
      'Large and small letters: they count on some machines and not on others',
    ],
    checkFirst: "Whether the file is in the vehicle's folder under that name.",
    limits: [],
  },
  sample: () => ({
    firing: '=== vehicle.json\n{ "tables": { "fuel": "tables/ve.table.csv" } }\n',
    quiet:
      '=== vehicle.json\n{ "tables": { "fuel": "ve.table.csv" } }\n=== ve.table.csv\n# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n, 800, 1600\n30, 42, 44\n60, 50, 52\n',
  }),
  session: ({ session }) => findingsOf(session.problems),
  vehicle: ({ problems }) => findingsOf(problems),
};
