// Taking part: from looking, over the page before the secure one, to a name.

import {button, el, field, refill} from './parts.js';

// What the QR code or somebody's typing holds: "SECRET" or "SECRET/NAME".
function fragment() {
  const [secret, ...name] = location.hash.slice(1).split('/');
  try {
    return {secret, name: decodeURIComponent(name.join('/'))};
  } catch {
    return {secret, name: ''};
  }
}

// A ticket however it was pasted: "fieldpeg:HOST:PORT/FINGERPRINT/SECRET", an address, or the secret.
function secretIn(text) {
  const trimmed = text.trim();
  if (trimmed.includes('#')) return trimmed.split('#')[1].split('/')[0];
  return trimmed.split('/').pop();
}

function warningPicture() {
  return el('div', {class: 'mock', 'aria-hidden': 'true'},
    el('p', {}, el('strong', {}, 'Your connection is not private')),
    el('p', {class: 'small'}, 'the certificate is not trusted \u2026'),
    el('p', {}, el('span', {class: 'mockbutton'}, 'Advanced'), ' ', el('span', {class: 'mockbutton'}, 'Go back')));
}

function beforeTheDoor() {
  const {sha256, spelled} = document.body.dataset;
  return [
    el('h2', {id: 'door-title'}, 'Take part'),
    el('p', {}, 'Here you can look. To claim a channel and to switch on, you need the marshal\u2019s ticket and the secure page.'),
    el('details', {}, el('summary', {}, 'How'),
      el('ol', {},
        el('li', {}, 'The phone will say that it does not know this server. That is expected: the server made its own certificate. It looks like this:', warningPicture()),
        el('li', {}, 'Compare before you go on. On the marshal\u2019s screen, and in what the phone shows of the certificate (SHA-256), it must begin with ',
          el('strong', {class: 'print'}, sha256.slice(0, 23)), ', spelled ', el('strong', {}, spelled), '. If it does not, go back and tell the marshal.'),
        el('li', {}, 'Go on, and scan the ticket or paste it.')),
      el('p', {}, el('a', {class: 'button strong wide', href: `https://${location.host}/join${location.hash}`}, 'To the secure page'))),
  ];
}

function form(ctx) {
  const {secret, name} = fragment();
  const ticket = el('input', {value: secret || '', autocomplete: 'off', autocapitalize: 'none', spellcheck: 'false', required: true, type: 'password'});
  const called = el('input', {value: name || '', maxlength: 40, autocomplete: 'nickname', required: true, autocapitalize: 'words'});
  const wrong = el('div', {role: 'alert'});
  const enter = async (e) => {
    e.preventDefault();
    let reply, welcome;
    try {
      reply = await fetch('/enter', {
        method: 'POST', headers: {'Content-Type': 'application/json'},
        body: JSON.stringify({secret: secretIn(ticket.value), name: called.value.trim()}),
      });
      welcome = await reply.json();
    } catch {
      wrong.replaceChildren(el('p', {class: 'refusal'}, 'The server did not answer. Try again.'));
      return;
    }
    if (!reply.ok) {
      wrong.replaceChildren(el('p', {class: 'refusal'}, welcome.why || 'refused', ' ', welcome.next || ''));
      return;
    }
    history.replaceState(null, '', '/');
    ctx.entered();
  };
  return [
    el('h2', {id: 'door-title'}, 'Take part'),
    el('form', {onsubmit: enter},
      secret ? el('p', {}, 'Your ticket is here. What are you called on the field?') : field('Ticket (scan the marshal\u2019s code, or paste it)', ticket),
      field('Name', called), wrong, el('button', {type: 'submit', class: 'strong wide'}, 'Join the day'))];
}

function inside(ctx) {
  return [
    el('h2', {id: 'door-title'}, 'This phone'),
    el('p', {}, 'It acts for ', el('strong', {}, ctx.me.name), ctx.me.role === 'marshal' ? ', marshal' : '', '.'),
    button('Forget me on this phone', async () => {
      await fetch('/leave', {method: 'POST'});
      location.assign('/');
    })];
}

// Drawn once for each state, so that nobody's typing is lost.
let drawn = '';
export function door(ctx, node) {
  const state = ctx.me ? `in ${ctx.me.name}` : location.protocol === 'https:' ? `form${location.hash}` : 'before';
  if (state === drawn) return;
  drawn = state;
  refill(node, ctx.me ? inside(ctx) : location.protocol === 'https:' ? form(ctx) : beforeTheDoor());
  if (!ctx.me && location.hash.length > 1) {
    document.body.classList.add('joining');
    node.querySelector('input[autocomplete=nickname]')?.focus();
  } else {
    document.body.classList.remove('joining');
  }
}
