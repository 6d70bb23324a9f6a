// The marshal may let others pay for it, with a reason that stays in the log.

import {at, button, el, field} from './nodes.js';
import {t} from './texts.js';
import {closeSheet, openSheet} from './sheets.js';

export function askAllowed(act) {
  const reason = () => at('because');
  const go = () => {
    const why = reason().value.trim();
    if (!why) return reason().focus();
    closeSheet();
    return act(why);
  };
  openSheet(() => ({
    title: t('allow.title'), body: [field(t('allow.because'), el('input', {id: 'because', type: 'text', maxlength: 200, autocomplete: 'off'})),
      el('p.small', {}, t('allow.caution'))],
    acts: button(t('allow.do'), go, 'go'),
  }));
}
