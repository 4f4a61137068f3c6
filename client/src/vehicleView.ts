// The view of the vehicles in the side bar: its commands, its badge, and when it looks again.

import { commands, l10n, Uri, window, type Disposable, type Event } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { COMMANDS, type CorrectParams, type StatusParams } from '../../server/src/protocol/messages.js';
import type { VehicleNode } from '../../server/src/protocol/vehicle.js';
import { placeOf, VehicleTree, type Branch } from './vehicleTree.js';

const VIEW = 'leanspot.vehicle';
/** While much is being checked, the view is drawn anew no more often than this, ms. */
const LEAST_PAUSE_MS = 1500;
/** An edit or a newer question has overtaken this one; the next status asks again. */
const OVERTAKEN: ReadonlySet<unknown> = new Set([-32800, -32801, -32802]);

export function registerVehicleView(client: BaseLanguageClient, ready: () => Promise<void>, onStatus: Event<StatusParams>): Disposable[] {
  const tree = new VehicleTree(
    async (method, params) => {
      await ready();
      for (let tries = 2; ; tries--) {
        try {
          return await client.sendRequest(method, params ?? {});
        } catch (error) {
          if (tries === 0 || !OVERTAKEN.has((error as { code?: unknown }).code)) throw error;
        }
      }
    },
    (vehicles) => showBadge(vehicles),
  );
  const view = window.createTreeView<Branch>(VIEW, { treeDataProvider: tree, showCollapseAll: true });

  const showBadge = (vehicles: readonly VehicleNode[]): void => {
    // Told only once it is known: an empty view would else say so while the server is still looking.
    void commands.executeCommand('setContext', 'leanspot.noVehicle', vehicles.length === 0);
    const errors = vehicles.reduce((sum, { findings }) => sum + findings.errors, 0);
    view.badge =
      errors === 0 ? undefined : { value: errors, tooltip: errors === 1 ? l10n.t('1 error found') : l10n.t('{0} errors found', errors) };
  };

  let drawnMs = 0;
  const heard = onStatus(({ state }) => {
    if (state === 'busy' && Date.now() - drawnMs < LEAST_PAUSE_MS) return;
    drawnMs = Date.now();
    tree.refresh();
  });

  return [
    view,
    heard,
    commands.registerCommand('leanspot.vehicle.refresh', () => tree.refresh()),
    commands.registerCommand('leanspot.vehicle.show', show),
    commands.registerCommand('leanspot.vehicle.openFile', async (branch: Branch) => {
      if (branch.kind === 'vehicle') await window.showTextDocument(Uri.parse(branch.vehicle.uri));
    }),
    commands.registerCommand('leanspot.vehicle.showFindings', () => commands.executeCommand('workbench.actions.view.problems')),
    commands.registerCommand('leanspot.vehicle.showTrace', showTrace),
    commands.registerCommand('leanspot.vehicle.showCellMoments', async (branch: Branch) => {
      await show(branch);
      await commands.executeCommand('leanspot.showCellInTrace');
    }),
    commands.registerCommand('leanspot.vehicle.correct', async (branch: Branch) => {
      if (branch.kind !== 'table') return;
      await show(branch);
      await commands.executeCommand(COMMANDS.correctTable, { uri: branch.table.uri, kind: 'all' } satisfies CorrectParams);
    }),
  ];
}

/** The text, with the focus in it. */
async function show(branch: Branch): Promise<void> {
  const place = placeOf(branch);
  if (place) await window.showTextDocument(place.uri, { selection: place.selection });
}

/** Of a session, a recording, or a pull, with the cursor where a click would put it. */
async function showTrace(branch: Branch): Promise<void> {
  if (branch.kind !== 'session' && branch.kind !== 'recording' && branch.kind !== 'pull') return;
  const place = placeOf(branch);
  await commands.executeCommand('leanspot.openTrace', place?.uri, place?.selection?.start.line);
}
