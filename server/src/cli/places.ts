// How files are called in what the command line writes.

import { relative, sep } from 'node:path';
import { pathOf } from '../disk/diskWorkspace.js';
import type { FileService } from '../service/fileService.js';
import { relativeTo } from '../service/uris.js';

/** Relative to the working folder, with `/`: what a terminal makes a link of. */
export function fromWorkingFolder(uri: string): string {
  const path = pathOf(uri) ?? uri;
  const near = relative(process.cwd(), path);
  return (near === '' ? '.' : near).split(sep).join('/');
}

export interface Place {
  /** Relative to the vehicle's folder, or to the working folder outside of any. */
  readonly file: string;
  /** The vehicle's folder, relative to the working folder; undefined outside of any. */
  readonly vehicle?: string;
}

/** Where a file stands, as the JSON outputs name it. */
export async function placeOf(service: FileService, uri: string): Promise<Place> {
  const folder = await service.vehicleFolder(uri);
  const file = folder && relativeTo(folder.uri, uri);
  return folder && file !== undefined ? { file: file, vehicle: fromWorkingFolder(folder.uri) } : { file: fromWorkingFolder(uri) };
}
