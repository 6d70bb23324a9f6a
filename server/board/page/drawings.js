// Gear by its look, drawn for this page, to be told apart at arm's length.

import {el} from './nodes.js';

const parts = {
  box: ['svg:rect', {x: 8, y: 4, width: 64, height: 44, rx: 3}],
};
const line = (d, look = '') => [`svg:path${look}`, {d}];
const cap = (x, y) => ['svg:rect.f', {x, y, width: 10, height: 12, rx: 4}];

const drawings = {
  snow: [parts.box, line('M14 10h3v3h-3zm9 4h5v2h-5zm12-5h3v4h-3zm13 3h6v2h-6zm14-3h3v3h-3zM16 21h6v2h-6zm14-1h2v4h-2zm10 3h7v2h-7zm18-4h3v5h-3zM13 31h4v2h-4zm10 4h3v4h-3zm12-5h6v3h-6zm13 5h3v3h-3zm9-4h8v2h-8zM18 41h7v2h-7zm16-1h3v3h-3zm14 2h6v2h-6zm14-2h3v3h-3z', '.f')],
  scene: [parts.box, line('M10 34l14-9 12 6 16-12 18 12v15H10z', '.w'), line('M10 34l14-9 12 6 16-12 18 12'), line('M16 12h8v3h-8z', '.f')],
  blocks: [parts.box, line('M10 6h16v14H10zM40 20h16v14H40zM56 34h14v12H56z', '.w'), line('M26 20h14v14H26zM56 6h14v14H56zM10 34h16v12H10z', '.f')],
  stubbies: [line('M14 26h52v20q0 4-4 4H48l-5-7h-6l-5 7H18q-4 0-4-4zM24 26V14m32 12V14'), cap(19, 3), cap(51, 3)],
  patch: [line('M14 28h52v18q0 4-4 4H48l-5-7h-6l-5 7H18q-4 0-4-4zM24 28V15m32 13v-5'), cap(19, 4), ['svg:rect.w', {x: 45, y: 3, width: 22, height: 20, rx: 2}]],
  coil: [line('M14 30h52v16q0 4-4 4H48l-5-7h-6l-5 7H18q-4 0-4-4zM40 30v-6'), line('M33 24h14v-3H33zm2-3c-4-3 14-3 10-6s-14 0-10-4 12-1 9-5-8-1-8-3')],
  panel: [['svg:rect.w', {x: 22, y: 3, width: 36, height: 22, rx: 2}], line('M40 25v12m0 0L27 50m13-13 13 13m-13-13v13')],
  nothing: [line('M14 16h52v26q0 4-4 4H48l-5-8h-6l-5 8H18q-4 0-4-4z')],
  stubby: [line('M20 46h40M40 46V26'), ['svg:rect.f', {x: 31, y: 6, width: 18, height: 21, rx: 7}]],
  whip: [line('M20 46h40M40 46 46 4'), ['svg:path', {d: 'M38 46l3-14', 'stroke-width': 6}]],
  leaves: [line('M20 46h40M40 46V26m0 0c-16-2-18-18-8-20s10 10 8 20c-2-10-2-22 8-20s8 18-8 20')],
  flat: [line('M20 46h40M40 46V34'), ['svg:rect.w', {x: 24, y: 10, width: 32, height: 24, rx: 2}], line('M37 19h6v6h-6z', '.f')],
  station: [['svg:rect.w', {x: 14, y: 4, width: 24, height: 14, rx: 2}], line('M26 18v10m0 0L14 50m12-22 12 22M26 28v22M60 44h10v-8H60zM65 36V22'), cap(60, 10)],
};

export const drawing = (name) => el('svg', {viewBox: '0 0 80 54', 'aria-hidden': 'true'}, drawings[name].map(([what, more]) => el(what, more)));
