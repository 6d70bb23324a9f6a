// The field: where everybody stands, and where I do.

import {el, heading} from './nodes.js';
import {t} from './texts.js';
import {page} from './page.js';
import {map} from './map.js';
import {isOff, radiates} from './standing.js';
import {foot} from './foot.js';

let sheet = null, version = -1;
// The day's places, asked for once and again when somebody moved.
export function places() {
  const now = Number(page.board.version || 0);
  if (page.isLive && now !== version) {
    version = now;
    page.day().then((day) => { if (day && day !== sheet) { sheet = day; page.redraw(); } });
  }
  return sheet;
}

// Who stands where; a place of nobody is empty. `hurt`: names of pilots.
export function stands(hurt = []) {
  const day = page.sheetOfDay?.sheet || sheet;
  const people = day?.pilots || [];
  return (day?.field?.places || []).map((place) => {
    const here = people.filter((p) => p.place === place.name).map((p) => p.name);
    const me = here.includes(page.me?.name);
    const flies = here.some((name) => radiates(page.row(name)));
    return {place: place.name, names: here.filter((n) => hurt.includes(n)).concat(here.filter((n) => !hurt.includes(n))), me,
      hurt: here.some((n) => hurt.includes(n)), off: !flies};
  });
}

const moveTo = (place) => page.done({change_pilot: {pilot: page.me.name, place}});

export function field() {
  const day = places();
  if (!day?.field?.places?.length) return [el('h2', {}, t('field')), el('p', {}, t('field.none')), foot()];
  const own = (day.pilots || []).find((p) => p.name === page.me?.name);
  const mayMove = own && page.mayAct() && page.isLive && (!page.aircraft()?.channel || isOff(page.aircraft()));
  return [el('h2.unseen', {}, t('field')), heading(day.field.name || t('field'), own ? t('field.area', {area: own.area}) : null),
    map({field: day.field, stands: stands(), tap: mayMove ? moveTo : null, says: t('field.says')}),
    own ? el('p.small', {}, t(mayMove ? 'field.stand' : 'field.later')) : null,
    el('ul.rows.places', {}, stands().map((s, i) => placeRow(s, i + 1, mayMove))), foot()];
}

// A place is a button for whoever may move there; who stands there stands beside it.
function placeRow(s, n, mayMove) {
  const parts = [el('span.num', {}, String(n)), el('span.name', {}, s.place), el('span.here', {}, s.names.join(', ') || t('field.empty'))];
  return el('li', {'data-of': s.place, 'data-me': s.me}, mayMove
    ? el('button', {type: 'button', 'aria-pressed': String(s.me), onclick: () => moveTo(s.place)}, parts) : el('div.place', {}, parts));
}
