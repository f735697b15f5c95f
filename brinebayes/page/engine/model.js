// A model as it was written by `page.slim`: every mapping is {"=": [key, value, ...]} so that the
// order and any key survive; it becomes a Map.

function revived(data) {
  if (Array.isArray(data)) return data.map(revived);
  if (data === null || typeof data !== "object") return data;
  const flat = data["="];
  if (flat !== undefined) {
    const map = new Map();
    for (let i = 0; i < flat.length; i += 2) map.set(flat[i], revived(flat[i + 1]));
    return map;
  }
  const out = Object.create(null);
  for (const [key, value] of Object.entries(data)) out[key] = revived(value);
  return out;
}

class EvidenceConflict extends Error {
  constructor(message, between = []) {
    super(message);
    this.between = between;
  }
}
class UsageError extends Error {}
class UnsafeRoute extends Error {}

function lookup(what, name, known) {
  if (!known.has(name)) throw new UsageError(`there is no ${what} '${name}'`);
  return known.get(name);
}

// The states of one line of a condition.
const namedStates = (wanted) => (Array.isArray(wanted) ? wanted : [wanted]);

function sum(numbers) {
  let total = 0;
  if (numbers.length === undefined) for (const one of numbers) total += one;
  else for (let k = 0; k < numbers.length; k++) total += numbers[k];
  return total;
}
// A value as the search compares it: what is equal then goes by place; see `advice.compared`.
const compared = Math.fround;
// The sum of a belief or another Float64Array.
function weightOf(column) {
  let total = 0;
  for (let k = 0; k < column.length; k++) total += column[k];
  return total;
}
const unique = (items) => [...new Set(items)];
const product = (numbers) => {
  let total = 1;
  for (const one of numbers) total *= one;
  return total;
};
// Names in the order in which Python sorts them: by code point; ids are ASCII.
const byName = (a, b) => (a < b ? -1 : a > b ? 1 : 0);
const sorted = (names) => [...names].sort(byName);

// The states of a column at some places.
function taken(column, places) {
  const out = new Uint8Array(places.length);
  for (let k = 0; k < out.length; k++) out[k] = column[places[k]];
  return out;
}

// Chances at some places.
function chancesAt(chances, places) {
  const out = new Float64Array(places.length);
  for (let k = 0; k < out.length; k++) out[k] = chances[places[k]];
  return out;
}
const takenAll = (columns, places) =>
  new Map([...columns].map(([name, column]) => [name, taken(column, places)]));

function times(a, b) {
  const out = new Float64Array(a.length);
  for (let r = 0; r < out.length; r++) out[r] = a[r] * b[r];
  return out;
}

function dot(a, b) {
  let total = 0;
  for (let r = 0; r < a.length; r++) total += a[r] * b[r];
  return total;
}
