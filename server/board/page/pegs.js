// Pegs and signs: shape, word and tone together, never one alone.

import {el} from './nodes.js';
import {mhzText, pegText} from './figures.js';
import {t} from './texts.js';

// Solid sends, outlined does not, dashed would, hatched is on the bench.
const looks = {on_air: 'on', told_on: 'on', bench: 'bench', held: 'held', off_air: 'held', down: 'down'};
export const pegLook = (row) => (row?.is_sighting ? 'seen' : looks[row?.stage] || 'none');

// A peg of these words: R4, and 5769 below where there is room for it.
export function peg(words, look, below = '') {
  const size = below ? 64 : 50;
  return el(`svg.peg.${look}`, {viewBox: `0 0 64 ${size}`, 'aria-hidden': 'true'},
    el('svg:path', {d: `M12 2h40l10 9v${size - 17}q0 4-4 4H6q-4 0-4-4V11z`}),
    look === 'down' ? el('svg:path', {d: 'M4 60 60 12'}) : null,
    el('svg:circle', {cx: 32, cy: 9, r: 3.5}),
    el('svg:text', {x: 32, y: below ? 40 : 39, 'font-size': words.length > 3 ? 18 : 23}, words),
    below ? el('svg:text.mhz', {x: 32, y: 56}, below) : null);
}

export const pegOf = (row, withMhz) => peg(pegText(row.channel), pegLook(row),
  withMhz ? belowPeg(row) : '');
export const belowPeg = ({channel}) => (!channel?.mhz ? t('peg.none') : pegText(channel) === mhzText(channel.mhz) ? t('mhz') : mhzText(channel.mhz));

const disc = {cx: 10, cy: 10, r: 7, fill: 'none', stroke: 'currentColor', 'stroke-width': 2};
const signs = {
  steady: () => el('svg:circle', {cx: 10, cy: 10, r: 8}),
  tight: () => [el('svg:path', {d: 'M10 2a8 8 0 0 0 0 16z'}), el('svg:circle', disc)],
  patchy: () => el('svg:circle', {...disc, 'stroke-width': 4, 'stroke-dasharray': '8 4'}),
  shaky: () => el('svg:path', {d: 'M10 1 20 19H0z'}),
  clash: () => el('svg:path', {d: 'm4 0 6 6 6-6 4 4-6 6 6 6-4 4-6-6-6 6-4-4 6-6-6-6z'}),
  too_far: () => el('svg:path', {d: 'M0 8h9V3l7 7-7 7v-5H0zM17 2h3v16h-3z'}),
  too_close: () => el('svg:path', {d: 'M20 8h-9V3l-7 7 7 7v-5h9zM0 2h3v16H0z'}),
  control_at_risk: () => el('svg:path', {d: 'M10 1 20 19H0zM-1 13l21-9 1 3-21 9z', 'fill-rule': 'evenodd'}),
  none: () => el('svg:circle', disc),
};

export function sign(verdict) {
  const drawn = signs[verdict] ? verdict : 'none';
  return el(`svg.sign.${drawn}`, {viewBox: '0 0 20 20', 'aria-hidden': 'true'}, signs[drawn]());
}

// Sign and word of a verdict.
export const verdictMark = (verdict) => [sign(verdict), t(`verdict.${verdict}`)];
