// The field from above, north up: areas, who stands where, and what reaches how far.

import {el} from './nodes.js';
import {t} from './texts.js';

const wide = 328, edge = 26;

// The part of the field that is shown: every place, and as much of the areas as keeps people apart.
function frame(field, tall) {
  const places = field.places || [], areas = field.areas || [];
  const num = (v) => Number(v || 0);
  const xs = places.map((p) => num(p.east_m)), ys = places.map((p) => num(p.north_m));
  const span = Math.max(60, Math.max(...xs) - Math.min(...xs), 0.6 * (Math.max(...ys) - Math.min(...ys)));
  const middle = (Math.max(...xs) + Math.min(...xs)) / 2;
  const near = areas.filter((a) => Math.hypot(num(a.east_m) - middle, num(a.north_m)) < 6 * span);
  const west = Math.min(...xs, ...near.map((a) => Math.max(num(a.east_m) - num(a.radius_m), middle - span)));
  const east = Math.max(...xs, ...near.map((a) => Math.min(num(a.east_m) + num(a.radius_m), middle + span)));
  const south = Math.min(...ys);
  const north = Math.max(...ys, ...near.map((a) => Math.min(num(a.north_m) + num(a.radius_m), south + tall * (east - west))));
  return {west, east, south, north, scale: (wide - 2 * edge) / Math.max(1, east - west)};
}

// "100 m" as a bar whose length is a round number.
function scaleBar(scale, y) {
  const wanted = 90 / scale;
  const step = 10 ** Math.floor(Math.log10(wanted));
  const metres = [5, 2, 1].map((k) => k * step).find((m) => m <= wanted) || step;
  return [el('svg:path.axis', {d: `M16 ${y}h${metres * scale}m${-metres * scale}-4v8m${metres * scale}-8v8`}),
    el('svg:text.t.from', {x: 22 + metres * scale, y: y + 4}, t('metres', {n: metres}))];
}

// Where somebody stands: solid where one of them sends.
const spot = (s, isSmall) => [s.me ? el('svg:circle.halo', {cx: s.x, cy: s.y, r: isSmall ? 11 : 15}) : null,
  el(`svg:circle.spot${s.hurt ? '.red' : s.off ? '.off' : ''}`, {cx: s.x, cy: s.y, r: isSmall ? 7 : 10}),
  isSmall ? null : el(`svg:text.n${s.off && !s.hurt ? '.off' : ''}`, {x: s.x, y: s.y + 4.5}, String(s.n))];

// stands: [{place, names, me, hurt, off}], numbered in their order; ring: {place, metres, isHarm}; tap(place): on the nearest.
// tall: how much of the field to the north, by the width of the picture.
export function map({field, stands, ring = null, tap = null, tall = 0.8, says}) {
  const {west, north, south, scale} = frame(field, tall);
  const x = (m) => edge + (Number(m || 0) - west) * scale, y = (m) => edge + (north - Number(m || 0)) * scale;
  const ground = y(south) + 46, foot = ground + 24;
  const at = (name) => (field.places || []).find((p) => p.name === name);
  const dots = stands.map((s, i) => ({...s, n: i + 1})).filter((s) => at(s.place)).map((s) => ({...s, x: x(at(s.place).east_m), y: y(at(s.place).north_m)}));
  const mast = ring && at(ring.place);
  const tapped = (e) => {
    const box = e.currentTarget.getBoundingClientRect();
    const px = ((e.clientX - box.left) * wide) / box.width, py = ((e.clientY - box.top) * wide) / box.width;
    const nearest = [...dots].sort((a, b) => Math.hypot(a.x - px, a.y - py) - Math.hypot(b.x - px, b.y - py))[0];
    if (nearest) tap(nearest.place);
  };
  return el('div.scroll', {}, el('svg.map', {viewBox: `0 0 ${wide} ${foot}`, role: 'img', 'aria-label': says, onclick: tap ? tapped : null},
    el('svg:rect.ground', {width: wide, height: foot, rx: 8}),
    (field.areas || []).map((a) => el('svg:circle.area', {cx: x(a.east_m), cy: y(a.north_m), r: Number(a.radius_m || 0) * scale})),
    (field.areas || []).map((a) => ({name: a.name, x: x(a.east_m), y: y(a.north_m)}))
      .map((a) => el('svg:text', {x: Math.min(wide - 50, Math.max(50, a.x)), y: Math.min(ground - 70, Math.max(30, a.y))}, a.name)),
    mast ? el(`svg:circle.ring.${ring.isHarm ? 'bad' : 'ok'}`, {cx: x(mast.east_m), cy: y(mast.north_m), r: Math.max(12, ring.metres * scale)}) : null,
    mast ? el('svg:path.spot', {d: `M${x(mast.east_m)} ${y(mast.north_m) - 14}l8 22h-16z`}) : null,
    dots.filter((s) => s.place !== ring?.place).map((s) => spot(s, Boolean(ring))),
    mast ? dots.filter((s) => s.hurt).map((s) => el('svg:text.red', {x: Math.min(wide - 40, Math.max(40, s.x)), y: s.y + 26}, s.names[0])) : null,
    scaleBar(scale, foot - 12),
    el('svg:path.axis', {d: 'M18 14v26m-7-16 7-10 7 10', fill: 'none'})));
}
