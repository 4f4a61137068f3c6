// Where a trace begins: it says that it is ready, and is built when the session comes.

import { isToTraceView, type FromTraceView, type ToTraceView } from '../../server/src/protocol/traceMessages.js';
import { Host } from './host.js';
import { View, type TraceHost } from './view.js';

export function startTrace(): void {
  let view: View | undefined;
  const host: TraceHost = new Host<FromTraceView, ToTraceView>(isToTraceView, (message) => {
    switch (message.type) {
      case 'session':
        if (view) view.renew(message.summary);
        else view = new View(host, message.summary, message.words, message.kept);
        return;
      case 'others':
        return view?.addOthers(message.summaries);
      case 'follow':
        return host.isLater(message.heard) ? view?.follow(message.sample) : undefined;
      case 'tell':
        return view ? view.tell(message.message) : void (document.body.textContent = message.message);
      case 'visits':
        return !host.isLater(message.heard) ? undefined : view?.visits(message.cell, message.visits, message.worstS);
    }
  });
  host.send({ type: 'ready' });
}
