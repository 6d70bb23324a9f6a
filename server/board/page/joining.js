// Taking part: from the code on the monitor, over what the phone will warn of, to a name.

import {at, button, el, field, link, links} from './nodes.js';
import {t} from './texts.js';
import {page, sayRefusal} from './page.js';
import {unlock} from './bell.js';
import {foot} from './foot.js';

const isSecure = location.protocol === 'https:';
const joined = 'joined';          // who this phone was, on which day
const joinedCookie = 'fieldpeg-joined';  // the same for the plain page; only a name

// What a ticket's code holds, "SECRET" or "SECRET/NAME"; it leaves the address at once.
const ticket = (() => {
  const [secret, ...name] = location.hash.slice(1).split('/');
  try {
    return {secret, name: decodeURIComponent(name.join('/'))};
  } catch {
    return {secret, name: ''};
  }
})();

export const wasJoined = () => {
  try {
    return JSON.parse(localStorage.getItem(joined) || 'null');
  } catch {
    return null;
  }
};
const knownHere = () => decodeURIComponent((document.cookie.match(new RegExp(`${joinedCookie}=([^;]*)`)) || [])[1] || '');

// Who this phone is for, from now on.
export function rememberMe(name, day) {
  if (!isSecure) return;
  localStorage.setItem(joined, JSON.stringify({name, day}));
  document.cookie = `${joinedCookie}=${encodeURIComponent(name)}; path=/; max-age=64800; samesite=lax`;
}

export async function forgetMe() {
  localStorage.removeItem(joined);
  document.cookie = `${joinedCookie}=; path=/; max-age=0`;
  await fetch('/leave', {method: 'POST'});
  location.assign('/');
}

// Where somebody begins who opened this address.
export function firstView() {
  if (location.pathname === '/board') return 'big';
  if (location.pathname === '/hello') return 'hello';
  if (location.pathname === '/join') return isSecure ? 'join' : 'hello';
  return history.state?.view || 'mine';
}

// A ticket however it was pasted: "fieldpeg:HOST:PORT/FINGERPRINT/SECRET", an address, or the secret.
function secretIn(text) {
  const trimmed = text.trim();
  return trimmed.includes('#') ? trimmed.split('#')[1].split('/')[0] : trimmed.split('/').pop();
}

async function enter(e) {
  e?.preventDefault();
  unlock();
  const name = at('nick').value.trim();
  if (!name) return at('nick').focus();
  const secret = ticket.secret || secretIn(at('secret')?.value || '');
  let reply, said;
  try {
    reply = await fetch('/enter', {method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify({secret, name})});
    said = await reply.json();
  } catch {
    return sayRefusal({kind: 'no_answer', wasSent: false});
  }
  if (!reply.ok) return sayRefusal(said);
  history.replaceState({view: 'mine'}, '', '/');
  ticket.secret = '';
  page.letGo = '';
  page.view = 'mine';
  page.line.drop();
  page.line.hurry();
}

export function hello() {
  const {sha256, spelled} = document.body.dataset;
  const me = knownHere();
  return [el('h2.huge', {}, t('hello.title')), me ? el('p.mid', {}, t('hello.known', {name: me})) : null, el('p', {}, t('hello.text')),
    el('ol.nums', {}, el('li', {}, t('hello.1'), el('div.fake', {'aria-hidden': 'true'}, t('hello.fake'), el('br', {}), el('b', {}, t('hello.fake.do')))),
      el('li', {}, t('hello.2'), el('br', {}), el('span.print', {}, sha256.slice(0, 11).replaceAll(':', ' ')),
        el('details', {}, el('summary', {}, t('hello.spelled')), el('p.print', {}, spelled))),
      el('li', {}, t('hello.3'))), links(link(t('hello.look'), () => page.go('all'))), foot()];
}
const goOn = () => location.assign(`https://${location.host}${knownHere() && !ticket.secret ? '/' : `/join${location.hash}`}`);
export const helloNext = () => button(t(knownHere() ? 'hello.go.known' : 'hello.go'), goOn, 'go');

export function join() {
  const before = wasJoined();
  return [el('h2.huge', {}, t('join.title')), el('form.stack', {onsubmit: enter},
    field(t('join.name'), el('input', {id: 'nick', type: 'text', autocomplete: 'nickname', maxlength: 40, autocapitalize: 'words', value: ticket.name || before?.name || ''})),
    el('p', {}, t('join.read')), el('p.small', {}, t(ticket.secret ? 'join.known' : 'join.nod')),
    ticket.secret ? null : el('details', {}, el('summary', {}, t('join.ticket')), field(t('join.paste'), el('input', {id: 'secret', type: 'password', autocomplete: 'off', spellcheck: 'false'}))),
    el('button.unseen', {type: 'submit', tabindex: -1}, t('join.do')))];
}
export const joinNext = () => button(t('join.do'), enter, 'go');

// For somebody who only looks: how to take part.
export const takePart = () => button(t('take.part'), () => (isSecure ? page.go('join') : page.go('hello')), 'go');
