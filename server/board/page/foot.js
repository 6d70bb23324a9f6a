// What stands below every view: what it is not, the theme, and this phone.

import {el, link, links} from './nodes.js';
import {t} from './texts.js';
import {page} from './page.js';
import {setTheme, theme, themes} from './shell.js';
import {forgetMe} from './joining.js';

export function foot() {
  return el('div.foot', {'data-of': 'foot'},
    el('p.small', {}, t('caution.estimates')), el('p.small', {}, t('caution.field')),
    el('div.spots', {role: 'group', 'aria-label': t('theme')}, themes.map((name) => el('button', {
      type: 'button', 'data-of': name, 'aria-pressed': String(theme() === name), onclick: () => { setTheme(name); page.redraw(); }}, t(`theme.${name}`)))),
    el('p.small', {}, page.program && page.program !== document.body.dataset.program ? t('version.other', {page: document.body.dataset.program, server: page.program}) : document.body.dataset.program),
    page.me ? [el('p.small', {}, t('phone.of', {name: page.me.name})), links(link(t('phone.forget'), forgetMe))] : null);
}
