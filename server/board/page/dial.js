// The dial: what arrives at somebody's goggles along the megahertz, louder is taller. Solid sends, dashed
// would; red hatching is harm; small green pegs are free.

import {el} from './nodes.js';
import {t} from './texts.js';

const low = 36, high = 132;      // of the humps' tops, and of the ground they stand on
const least = 10;                // half of a hump's width, MHz
const letter = 8.6;              // of a name's width

// What a dial shows: the MHz that all humps, free spots and edges need, with room to both sides.
function range(humps, free) {
  const all = [...humps, ...free].map((h) => h.mhz);
  const from = Math.min(5650, ...all) - 12, to = Math.max(5930, ...all) + 12;
  const isOther = all.length && Math.max(...all) < 5000;   // another band
  return isOther ? [Math.min(...all) - 30, Math.max(...all) + 30] : all.some((m) => m < 5000)
    ? [Math.min(...all.filter((m) => m > 5000), 5650) - 12, to] : [from, to];
}

function hump(x, ground, h) {
  const c = x(h.mhz), w = Math.max(7, x(h.mhz + (h.half || least)) - c), top = ground - h.level * (ground - low);
  return `M${c - w} ${ground}C${c - w / 2} ${ground} ${c - w / 2} ${top} ${c} ${top}S${c + w / 2} ${ground} ${c + w} ${ground}z`;
}

// Of names that would touch, the lesser loses its name.
function named(humps, x, wide) {
  const placed = [];
  const rank = (h) => (h.mine || h.tried ? 3 : h.hurt ? 2 : h.level);
  for (const h of [...humps].sort((a, b) => rank(b) - rank(a))) {
    const half = (String(h.name).length * letter) / 2;
    const at = Math.min(wide - half, Math.max(half, x(h.mhz)));
    const y = high - 6 - h.level * (high - low);
    if (placed.every((p) => Math.abs(p.at - at) > p.half + half + 2 || Math.abs(p.y - y) > 16)) placed.push({h, at, y, half});
  }
  return placed;
}

function axis(x, from, to, wide) {
  const step = (to - from) / 100 > 2.4 ? 50 : 20;
  const ticks = [];
  for (let f = Math.ceil(from / step) * step; f <= to; f += step) ticks.push(f);
  const every = ticks.length > 4 ? 2 : 1;
  return [el('svg:path.axis', {d: `M0 ${high}h${wide}`}), ticks.map((f, i) => [el('svg:path.axis', {d: `M${x(f)} ${high}v6`}),
    i % every ? null : el('svg:text.t', {x: Math.min(wide - 18, Math.max(18, x(f))), y: 152}, String(f))])];
}

// The edges of a band that is allowed, as a bracket, and wash outside.
function edges(band, x, wide) {
  const a = Math.max(0, x(band.low)), b = Math.min(wide, x(band.high));
  const words = band.name, half = (words.length * 7.6) / 2 + 6, middle = Math.min(wide - half, Math.max(half, (a + b) / 2));
  return {
    wash: el('svg:path.out', {d: `M0 22h${a}v${high - 22}H0zM${b} 22H${wide}v${high - 22}H${b}z`}),
    bracket: [el('svg:path.post', {d: `M${a} 158v14m0-7H${b}m0-7v14`}),
      el('svg:rect.bg', {x: middle - half, y: 157, width: 2 * half, height: 17}), el('svg:text.t', {x: middle, y: 170}, words)],
  };
}

// Of free spots too close for two pegs, the better one is drawn.
function apart(free, x) {
  const kept = [];
  for (const f of free) if (kept.every((k) => Math.abs(x(k.mhz) - x(f.mhz)) >= 25)) kept.push(f);
  return kept;
}

const freePeg = (x, wide) => (f) => el('svg', {'data-of': `free${f.mhz}`, overflow: 'visible'},
  el('svg:path.free', {d: `M${x(f.mhz) - 9} 128v-14l4-4h10l4 4v14z`}),
  el('svg:text.green', {x: Math.min(wide - 12, Math.max(12, x(f.mhz))), y: 104}, f.name));

// humps: {mhz, half, level 0..1, name, mine, tried, hurt}; free: {mhz, name}; band: {low, high, name}.
export function dial({humps, free = [], band = null, says, wide = 328}) {
  const [from, to] = range(humps, free);
  const x = (mhz) => 8 + ((mhz - from) * (wide - 16)) / (to - from);
  const inside = humps.filter((h) => h.mhz > from && h.mhz < to);
  const own = inside.find((h) => h.mine || h.tried);
  const edge = band && band.high > from && band.low < to ? edges(band, x, wide) : null;
  const look = (h) => (h.tried ? 'try' : h.mine ? 'mine' : h.hurt ? 'hurt' : 'hump');
  const spots = free.filter((f) => f.mhz > from && f.mhz < to && !inside.some((h) => Math.abs(h.mhz - f.mhz) < (h.mine || h.tried ? 14 : 1)));
  return el('div.scroll', {}, el('svg.dial', {viewBox: `0 10 ${wide} ${edge ? 166 : 146}`, role: 'img', 'aria-label': says},
    edge?.wash,
    inside.filter((h) => h !== own).map((h) => el(`svg:path.${look(h)}`, {d: hump(x, high, h)})),
    own ? [el('svg:clipPath', {id: 'own-hump'}, el('svg:path', {d: hump(x, high, own)})),
      el(`svg:path.${look(own)}`, {d: hump(x, high, own)}),
      inside.filter((h) => h !== own && Math.abs(h.mhz - own.mhz) < (h.half || least) + (own.half || least))
        .map((h) => el('svg:path.harm', {'clip-path': 'url(#own-hump)', d: hump(x, high, h)}))] : null,
    apart(spots, x).map(freePeg(x, wide)),
    named(inside, x, wide).map(({h, at, y}) => el(`svg:text${h.hurt ? '.red' : ''}`, {x: at, y}, h.name)),
    axis(x, from, to, wide), edge?.bracket));
}

// Humps of a dial as a receiver hears it; `hurt`: names of those who would suffer.
export function humpsHeard(picture, hurt = []) {
  const height = (dbm) => Math.min(1, Math.max(0.08, (dbm + 100) / 75));
  return (picture.signals || []).map((s) => ({
    mhz: Number(s.channel.mhz), half: halfWidth(s.density), level: height(Number(s.arriving_dbm || 0)),
    name: s.wanted ? t('me') : s.owner ? s.transmitter : '?', mine: s.wanted, hurt: hurt.includes(s.owner) || hurt.includes(s.transmitter)}));
}

// The same where nobody listens yet: who sends, all as loud.
export const humpsOnBoard = (rows, hurt = []) => rows.filter((r) => r.channel?.mhz && (r.is_sighting || ['on_air', 'told_on', 'bench', 'down'].includes(r.stage)))
  .map((r) => ({mhz: Number(r.channel.mhz), level: 0.6, name: r.is_sighting ? '?' : r.transmitter, hurt: hurt.includes(r.owner)}));

// Within 20 dB of the top.
function halfWidth(density) {
  if (!density?.length) return least;
  const top = Math.max(...density.map((p) => Number(p.dbm || 0)));
  const loud = density.filter((p) => Number(p.dbm || 0) > top - 20).map((p) => Number(p.mhz));
  return Math.max(least, (Math.max(...loud) - Math.min(...loud)) / 2);
}
