// A board and what changes on it.

const nameOf = (row) => row.transmitter;

// The whole board after a change; rows that did not change are the same objects. See
// docs/protocol.md, 7.
export function applied(board, change) {
  const next = change.board || {};
  if (change.since === undefined) return next;
  const told = new Map((next.rows || []).map((row) => [nameOf(row), row]));
  const gone = new Set(change.gone);
  const rows = new Map();
  for (const row of board.rows || []) {
    if (!gone.has(nameOf(row))) rows.set(nameOf(row), told.get(nameOf(row)) || row);
  }
  for (const [name, row] of told) rows.set(name, row);
  const order = change.order || [...rows.keys()];
  return {...next, rows: order.map((name) => rows.get(name))};
}
