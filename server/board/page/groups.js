// Flight groups of the day, and which is next.

import {page} from './page.js';

export const groups = () => [...new Set(page.rows().map((r) => Number(r.group || 0)).filter(Boolean))].sort((a, b) => a - b);

// The one after the group that flies; 0 where there is none.
export function nextGroup() {
  const all = groups(), now = Number(page.board.flying_group || 0);
  if (all.length < 2 && now) return 0;
  return all.find((g) => g > now) || all[0] || 0;
}
