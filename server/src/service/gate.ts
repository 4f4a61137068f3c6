// Evidence with what no correction may rest on told in it, so that the command line, the quick fixes and the report cannot pass it by.

import { tableFindings } from '../findings/check.js';
import type { Finding } from '../findings/finding.js';
import type { Table } from '../formats/table/table.js';
import type { VehicleDocument } from '../formats/vehicle/vehicle.js';
import type { Evidence } from '../fueling/evidence.js';
import { heldCells } from '../fueling/doubts/gate.js';
import type { SessionEvidence } from '../fueling/weigh.js';
import type { Documents } from './documents.js';
import { tableOfRole } from './vehicleFolders.js';
import type { Workspace } from './workspace.js';

interface Around {
  readonly key: string;
  readonly document: VehicleDocument | undefined;
  readonly target: Table | undefined;
}

/** What a correction of the table is held against; the key changes whenever any of it does. */
export async function aroundTable(workspace: Workspace, documents: Documents, tableUri: string): Promise<Around> {
  const folder = await documents.vehicleFolder(tableUri),
    vehicle = folder && (await documents.vehicle(folder.fileUri));
  const uri = folder && (await tableOfRole(workspace, folder, 'target')),
    target = uri === undefined ? undefined : await documents.table(uri);
  return { key: `${vehicle?.key}|${target?.key}`, document: vehicle?.value, target: target?.value };
}

export function gated(table: Table, evidence: Evidence, evidences: readonly SessionEvidence[], { document, target }: Around): Evidence {
  const refused = brokenWords(table, document);
  return {
    ...evidence,
    held: heldCells(table, evidence, evidences, {
      vehicle: document?.vehicle,
      target,
      isTargetBroken: target !== undefined && isTargetBroken(target, document),
    }),
    ...(refused === undefined ? {} : { refused }),
  };
}

/** Whether a target table has an error other than an unsafe target, or a number on its axes or in it that no engine has. */
function isTargetBroken(target: Table, vehicle: VehicleDocument | undefined): boolean {
  const known = brokenTargets.get(target);
  if (known && known.vehicle === vehicle) return known.isBroken;
  const isBroken = tableFindings({ table: target, vehicle, evidence: undefined }).some(
    ({ code, severity }) => code === 'value-implausible' || (severity === 'error' && code !== 'target-unsafe'),
  );
  brokenTargets.set(target, { vehicle, isBroken });
  return isBroken;
}

const brokenTargets = new WeakMap<Table, { readonly vehicle: VehicleDocument | undefined; readonly isBroken: boolean }>();

const placeOf = ({ start }: Finding['range']): string => `${start.line}:${start.character}`;

/**
 * What is broken, in words that follow the table's name: what a finding calls an error, or a number that no engine has and that its
 * neighbours do not bear out.
 */
function brokenWords(table: Table, vehicle: VehicleDocument | undefined): string | undefined {
  const found = tableFindings({ table, vehicle, evidence: undefined });
  const rough = new Set(
    found.filter(({ code, severity }) => code === 'cell-rough' && severity === 'warning').map(({ range }) => placeOf(range)),
  );
  // What is told once stands for each of its places.
  const isRough = ({ range, related = [] }: Finding): boolean =>
    [range, ...related.map((other) => other.range)].some((each) => rough.has(placeOf(each)));
  const broken = found.find((finding) => finding.severity === 'error' || (finding.code === 'value-implausible' && isRough(finding)));
  return broken && `is broken in line ${broken.range.start.line + 1} (${broken.code}): ${broken.message}`;
}
