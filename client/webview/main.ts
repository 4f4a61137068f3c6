// Where the view begins: it says that it is ready, and is built when the session comes.

import './locale.js';
import { Host } from './host.js';
import { View } from './view.js';

let view: View | undefined;
const host: Host = new Host((message) => {
  switch (message.type) {
    case 'session':
      if (view) view.renew(message.summary); else view = new View(host, message.summary, message.words, message.kept);
      return;
    case 'others': return view?.addOthers(message.summaries);
    case 'follow': return view?.follow(message.sample);
    case 'show': return view?.show(message.fromS, message.toS, message.atS);
    case 'tell': return view ? view.tell(message.message) : void (document.body.textContent = message.message);
    case 'visits': return view?.visits(message.cell, message.visits, message.worstS);
  }
});
host.send({ type: 'ready' });
