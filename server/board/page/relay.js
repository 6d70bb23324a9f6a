// A relay before it is switched on: a power slider over the window in which it fits.

import {channelText, harmText, powerText} from './words.js';
import {button, dialog, el, linksLost} from './parts.js';
import {claim} from './claims.js';

const svg = (tag, attributes) => {
  const node = document.createElementNS('http://www.w3.org/2000/svg', tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  return node;
};

const answers = {
  fits: 'It fits.',
  too_weak: 'Too weak for its own goggles.',
  too_strong: 'Too strong: it drowns somebody.',
  no_window: 'No power fits here.',
};

// The window as a picture: hatched is too weak or too strong, white fits, the mark is what is asked.
function windowPicture(check, low, high, asked) {
  const width = 320, height = 46;
  const x = (dbm) => Math.max(0, Math.min(width, (width * (dbm - low)) / (high - low || 1)));
  const from = check.ref && check.ref.floor_dbm, to = check.ref && check.ref.ceiling_dbm;
  const picture = svg('svg', {viewBox: `0 0 ${width} ${height}`, class: 'window', 'aria-hidden': 'true'});
  picture.append(svg('rect', {x: 0, y: 8, width, height: 22, class: 'outside'}));
  const a = from === undefined ? 0 : x(from), b = to === undefined ? width : x(to);
  if (check.answer !== 'no_window' && b > a) picture.append(svg('rect', {x: a, y: 8, width: b - a, height: 22, class: 'inside'}));
  picture.append(svg('path', {d: `M${x(asked)} 4v30m-6 10l6-10 6 10z`, class: 'asked'}));
  return picture;
}

function windowText(window) {
  if (!window) return '';
  const from = window.floor_dbm === undefined ? 'no power is enough' : `from ${powerText(window.floor_dbm)}`;
  const to = window.ceiling_dbm === undefined ? 'nobody is drowned up to the most it can send' : `to ${powerText(window.ceiling_dbm)}`;
  const by = window.limited_by && window.limited_by.owner ? `, limited by ${window.limited_by.owner}'s ${window.limited_by.receiver}` : '';
  return `${from} ${to}${by}`;
}

function told(check) {
  return [
    el('p', {class: `answer ${check.answer === 'fits' ? 'go' : 'stop'}`}, el('strong', {}, answers[check.answer] || '')),
    el('p', {}, `Usual case: ${windowText(check.ref)}.`),
    el('p', {}, `At worst: ${windowText(check.worst)}.`),
    check.ref && check.ref.reason ? el('p', {}, check.ref.reason) : null,
    (check.harmed || []).length ? el('ul', {}, ...check.harmed.map((h) => el('li', {}, el('strong', {}, `${h.pilot}, ${h.receiver}`),
      `: ${harmText(h)}`))) : null,
    ...linksLost(check.links_lost),
    (check.advice || []).length ? el('h3', {}, 'What would help') : null,
    (check.advice || []).length ? el('ul', {}, ...check.advice.map((a) => el('li', {}, a.text))) : null,
    el('p', {}, `Radiated power ${powerText(check.eirp_dbm)}: keep ${Number(check.keep_away_m || 0).toFixed(1)} m from its antenna (general-public reference level; national limits rule).`),
    ...(check.remarks || []).map((r) => el('p', {class: 'small'}, `Remark of the rule set: ${r.text}`))];
}

export async function relayDialog(ctx, row) {
  const sheet = await ctx.sheet();
  const relay = sheet && (sheet.relays || []).find((r) => r.name === row.transmitter);
  if (!relay) return;
  const steps = (relay.transmitter.power_dbm || []).slice().sort((a, b) => a - b);
  const low = steps.length ? steps[0] : 0, high = steps.length ? steps[steps.length - 1] : 30;
  const held = row.power_dbm === undefined ? low : Number(row.power_dbm);
  const nearest = steps.reduce((best, p, i) => (Math.abs(p - held) < Math.abs(steps[best] - held) ? i : best), 0);
  const slider = steps.length
    ? el('input', {type: 'range', min: 0, max: steps.length - 1, step: 1, value: nearest})
    : el('input', {type: 'range', min: low, max: high, step: 1, value: Math.round(held)});
  const power = () => (steps.length ? steps[Number(slider.value)] : Number(slider.value));
  const shown = el('output', {class: 'big'});
  const picture = el('div', {});
  const result = el('div', {'aria-live': 'polite'});
  const name = row.channel ? channelText(row.channel) : 'the channel it would take';
  let latest = 0;
  const ask = async () => {
    const mine = ++latest;
    shown.textContent = powerText(power());
    slider.setAttribute('aria-valuetext', powerText(power()));
    const query = {relay: row.transmitter, power_dbm: power(), basis: 'held'};
    if (!row.channel && relay.transmitter.channels && relay.transmitter.channels.length) query.channel = relay.transmitter.channels[0];
    const answer = await ctx.line.ask({relay_check: query});
    if (mine !== latest) return;
    if (answer.refusal) return void result.replaceChildren(el('p', {class: 'refusal'}, answer.refusal.why, ' ', answer.refusal.next || ''));
    const check = answer.relay_check;
    picture.replaceChildren(windowPicture(check, Math.min(low, 0), Math.max(high, 30), power()));
    result.replaceChildren(...told(check).filter(Boolean));
  };
  let later = null;
  slider.addEventListener('input', () => {
    shown.textContent = powerText(power());
    clearTimeout(later);
    later = setTimeout(ask, 150);
  });
  const box = dialog(`${row.transmitter} on ${name}`,
    el('label', {class: 'slide'}, el('span', {}, 'Power '), shown, slider), picture, result,
    ctx.mayAct() ? button('Hold it at this power', () => {
      box.close();
      claim(ctx, row, {channel: row.channel, power_dbm: power()});
    }, 'strong wide') : null);
  ask();
}
