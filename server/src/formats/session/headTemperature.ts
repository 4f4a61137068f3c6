// A cylinder head's temperature stands in for the coolant's where no coolant is logged: it tells whether the engine is warm. How hot it may
// get is another matter: an air-cooled head works at 150 to 200 °C.

import type { Channel } from './session.js';

/** By its name alone: a column that the vehicle file calls coolant is coolant. */
export const isOfHead = ({ quantity, quantityFrom, name }: Pick<Channel, 'quantity' | 'quantityFrom' | 'name'>): boolean =>
  quantity === 'coolant-temperature' && quantityFrom === 'name' && /head/i.test(name);

/** °C; hotter no head lasts (aluminium softens). Common practice, no source. */
export const HOTTEST_HEAD_C = 300;
