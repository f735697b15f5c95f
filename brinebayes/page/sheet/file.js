// Visit files, the same JSON Lines that `visit.record` reads and writes: a header, then one event a
// line with when it was written (`at`) and the act that stood first in the advice (`advised`).

const SCHEMA = "brinebayes.visit.1";
const TIME = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}Z$/;

class FileError extends Error {}

const timeText = (date) => `${date.toISOString().slice(0, 19)}Z`;

function newVisit(model, now, random) {
  const id = [...random].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return { id, note: "", at: timeText(now), model: modelIs(model), rows: [] };
}

const modelIs = (model) => ({ id: model.about.id, version: model.about.version, hash: model.hash });

function visitText({ id, note, at, model, rows }) {
  const header = { schema: SCHEMA };
  if (note) header.note = note;
  if (id) header.id = id;
  if (model) header.model = model;
  if (at) header.at = at;
  return [header, ...rows].map((row) => `${JSON.stringify(row)}\n`).join("");
}

// A visit from the text of a file. Throws FileError with the line and what would be right.
function parseVisit(text) {
  const lines = text.split("\n");
  const tail = lines.pop();
  let torn = false;
  if (tail.trim() && !objectOf(tail)) torn = true;
  else lines.push(tail);
  const rows = [];
  let header = null;
  lines.forEach((line, k) => {
    if (!line.trim()) return;
    const row = objectOf(line);
    const refuse = (why) => {
      throw new FileError(`line ${k + 1}: ${why}`);
    };
    if (!row) refuse("not a JSON object on one line");
    if (header === null) header = headerOf(row, refuse);
    else rows.push(eventOf(row, refuse));
  });
  if (header === null) throw new FileError(`the first line must be {"schema": "${SCHEMA}"}`);
  return { note: "", id: "", at: "", model: null, ...header, rows, torn };
}

function objectOf(line) {
  try {
    const value = JSON.parse(line);
    return value !== null && typeof value === "object" && !Array.isArray(value) ? value : null;
  } catch {
    return null;
  }
}

const isText = (value) => typeof value === "string";

function headerOf({ schema, ...rest }, refuse) {
  if (isText(schema) && /^brinebayes\.visit\.[1-9]\d*$/.test(schema) && schema !== SCHEMA) {
    refuse(`written by another version (${schema}); this page reads ${SCHEMA}`);
  }
  if (schema !== SCHEMA) refuse(`this is no visit file; it must begin with {"schema": "${SCHEMA}"}`);
  for (const name of Object.keys(rest)) {
    if (!["note", "id", "model", "at"].includes(name)) refuse(`unknown field '${name}'`);
  }
  const { model } = rest;
  const whole = model === undefined || (model && ["id", "version", "hash"].every((n) => isText(model[n])));
  if (!whole) refuse("the field 'model' must have the texts id, version, hash");
  for (const name of ["note", "id", "at"]) {
    if (rest[name] !== undefined && !isText(rest[name])) refuse(`the field '${name}' must be text`);
  }
  if (rest.at && !TIME.test(rest.at)) refuse("'at' must be a UTC time as 2024-05-31T08:00:00Z");
  return rest;
}

function eventOf(row, refuse) {
  const { event, at = "", advised = "", ...rest } = row;
  if (!Object.hasOwn(KINDS, event)) refuse(`event '${event}' is none that is known`);
  const shapes = KINDS[event];
  for (const name of Object.keys(rest)) if (!Object.hasOwn(shapes, name)) refuse(`unknown field '${name}'`);
  for (const [name, shape] of Object.entries(shapes)) {
    const value = rest[name];
    const object = value !== null && typeof value === "object" && !Array.isArray(value);
    const fits = {
      text: isText(value),
      list: Array.isArray(value) && value.every(isText),
      texts: object && Object.values(value).every(isText),
    };
    if (!fits[shape]) refuse(`'${event}' needs the field '${name}'`);
  }
  if (!isText(at) || (at && !TIME.test(at))) refuse("'at' must be a UTC time as 2024-05-31T08:00:00Z");
  if (!isText(advised)) refuse("the field 'advised' must be text");
  return row;
}

// What of a visit this model does not know: [[row, what]]; empty if it can go on.
function misfits(model, visit) {
  return visit.rows.map((row, k) => [k, lacks(model, row)]).filter(([, why]) => why !== null);
}
