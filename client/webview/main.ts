// Where a view begins: the page says which it is; it says that it is ready, and is built when its first numbers come.

import './locale.js';
import { startTrace } from './startTrace.js';
import { startTable } from './tableView.js';

if (document.body.dataset.view === 'table') startTable();
else startTrace();
