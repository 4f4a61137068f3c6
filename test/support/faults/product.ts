// The one place where the bench touches the product: a recording in, findings out.

import { sessionFindings } from '../../../server/src/findings/check.js';
import type { Finding } from '../../../server/src/findings/finding.js';
import { readSession } from '../../../server/src/formats/session/readSession.js';
import { readVehicle } from '../../../server/src/formats/vehicle/readVehicle.js';
import { textSource } from '../../../server/src/formats/source.js';
import { analyse } from '../../../server/src/signals/analyse.js';
import { toCsv, type Recording } from './recording.js';

/** Findings as `check` gives them for the session and its vehicle file. */
export const findingsOf = (recording: Recording): Finding[] => {
  const { vehicle } = readVehicle(JSON.stringify(recording.vehicle));
  return sessionFindings(analyse(readSession(textSource(toCsv(recording)), { vehicle }), vehicle));
};
