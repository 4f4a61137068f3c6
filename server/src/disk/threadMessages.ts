// What is said between this thread and one that works on sessions.

import type { Tally, Witness } from '../fueling/solution/tally.js';
import type { SessionEvidence } from '../fueling/weigh.js';
import type { SessionFound } from '../service/sessionFound.js';
import type { SessionQuestion } from '../service/sessionQuestion.js';
import type { SessionViews } from '../service/views/sessionViews.js';
import type { SessionTask } from '../service/sessionWork.js';

/**
 * What a thread is told and tells: where it `shows`, what the reader noticed; what it found, behind that, where it `shows`, the views,
 * then, where it `weighs`, the evidence, and that it has ended. Where it `asks`, only what is said to that. `grows`: of a file that was
 * shorter before, which may be read on.
 */
export interface ThreadTask {
  readonly id: number;
  readonly task: SessionTask;
  readonly bytes?: Uint8Array;
  readonly grows?: true;
  readonly asks?: SessionQuestion;
  readonly keeps?: boolean;
}
export interface ThreadTally {
  readonly id: number;
  readonly tallies: readonly Witness[];
}
export type ThreadMessage = ThreadTask | ThreadQuestion | ThreadTally | 'warm up';
/** A question about the session of an earlier task. */
export interface ThreadQuestion {
  readonly id: number;
  readonly of: number;
  readonly question: SessionQuestion;
}
export interface ThreadAnswer {
  readonly id: number;
  readonly answer:
    | { readonly first: SessionFound['findings'] }
    | { readonly found?: SessionFound; readonly shows: boolean; readonly weighs: boolean }
    | { readonly views: SessionViews }
    | { readonly said: unknown }
    | { readonly evidence: SessionEvidence }
    | { readonly tally: Tally }
    | 'ended'
    | { readonly failed: { readonly message: string; readonly code?: string; readonly path?: string } };
}

/** Whether somebody waits for what comes behind: what is judged behind what the reader noticed, and the views. */
export const isMoreAwaited = (answer: ThreadAnswer['answer']): boolean =>
  typeof answer === 'object' && ('first' in answer || ('shows' in answer && answer.shows));
