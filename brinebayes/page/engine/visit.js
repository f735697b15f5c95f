// Events in, state out: what is known at this point of a visit. Events are the rows of a visit
// file: {event: "saw", observation, outcome}; see `visit.events` and `visit.state`.

const FINISH = "finish";
const ESCALATE = "escalate";
const ENDS = ["proven", "repaired_proof_pending", "escalated", "not_a_softener_fault", "second_visit_needed"];
const HOWS = ["seen", "repaired_and_proven", "repaired_only", "judged"];
const FIRST = ["complaint", "site", "setup"];

// The fields of each kind of event: text, a list of texts, or an object of texts.
const KINDS = {
  site: { condition: "text", value: "text" },
  complaint: { complaint: "text" },
  saw: { observation: "text", outcome: "text" },
  read: { observation: "text", text: "text" },
  measured: { measure: "text", text: "text" },
  skipped: { what: "text" },
  heeded: { rule: "text" },
  arrived: { act: "text", setup: "texts" },
  waiting: { act: "text" },
  done: { repair: "text" },
  setup: { variable: "text", value: "text" },
  refilled: {},
  could_not: { act: "text" },
  part_missing: { part: "text" },
  part_here: { part: "text" },
  note: { text: "text" },
  found: { fault: "text", how: "text" },
  ended: { end: "text", act: "text", to: "text", call_back: "text", still_open: "list" },
  undo: {},
  model: { id: "text", version: "text", hash: "text" },
  cut_off: {},
};

const aboutRecord = (event) => event.event === "model" || event.event === "cut_off";
const belongs = (event) => ["saw", "read", "done", "waiting", "ended"].includes(event.event);

// The places of what an undo takes back: the last event, with the arrival that led to it.
function lastStep(events) {
  const steps = events.map((_, p) => p).filter((p) => !aboutRecord(events[p]));
  if (!steps.length) return [];
  const before = steps.length > 1 ? events[steps[steps.length - 2]] : null;
  const last = events[steps[steps.length - 1]];
  const both = before && before.event === "arrived" && before.act && belongs(last);
  return steps.slice(both ? -2 : -1);
}

// The events that no undo took back, in order.
function standingEvents(events) {
  let left = [];
  for (const event of events) {
    if (event.event !== "undo") {
      left.push(event);
      continue;
    }
    const taken = lastStep(left);
    if (!taken.length) throw new UsageError("there is nothing left to take back");
    left = left.filter((_, place) => !taken.includes(place));
  }
  return left;
}

const START = Object.freeze({
  site: new Map(),
  complaints: [],
  seen: [], // [epoch, observation, outcome]
  done: [],
  outdated: new Set(), // observations whose answer a repair since then may have changed
  setup: new Map(),
  couldNot: new Set(),
  partsMissing: new Set(),
  partsHere: new Set(),
  walked: null,
  at: "",
  since: [],
  waiting: "",
  skipped: new Set(), // "epoch question"
  heeded: new Set(),
  beforeRefill: 0,
  refilled: false,
  notes: [],
  found: new Map(),
  ended: null,
  measures: new Map(),
  readings: [], // {epoch, place, reading}
});

const fold = (model, events) => standingEvents(events).reduce((s, e) => stepped(model, s, e), START);

// What an event names that the model does not have; null if it has all of it.
function lacks(model, event) {
  try {
    stepped(model, START, event);
    return null;
  } catch (error) {
    if (error instanceof UsageError) return error.message;
    throw error;
  }
}

const withKey = (map, key, value) => new Map(map).set(key, value);
const withItem = (set, item) => new Set(set).add(item);
const withoutItem = (set, item) => new Set([...set].filter((one) => one !== item));

function known(what, word, names) {
  if (!names.includes(word)) throw new UsageError(`there is no ${what} '${word}'`);
}

// Observation -> [its check, its outcomes], the proof under the check `proof`.
function observationsOf(model) {
  if (!model.answers) {
    model.answers = new Map();
    for (const [id, check] of model.checks) {
      for (const [name, one] of check.observations) model.answers.set(name, [id, [...one.outcomes.keys()]]);
    }
    model.answers.set(PROOF, [PROOF, PROOF_STATES]);
  }
  return model.answers;
}

function stepped(model, state, event) {
  const { act, part } = event;
  switch (event.event) {
    case "site": {
      const values = lookup("site condition", event.condition, model.site).values;
      lookup(`value of ${event.condition}`, event.value, values);
      return { ...state, site: withKey(state.site, event.condition, event.value) };
    }
    case "complaint": {
      lookup("complaint", event.complaint, model.complaints);
      if (state.complaints.includes(event.complaint)) return state;
      return { ...state, complaints: [...state.complaints, event.complaint] };
    }
    case "saw":
      return saw(model, state, event.observation, event.outcome);
    case "read":
      return readNumber(model, state, event.observation, event.text);
    case "measured":
      return measured(model, state, event.measure, event.text);
    case "done": {
      lookup("repair", event.repair, model.repairs);
      const next = acted(model, state, event.repair);
      const outdated = new Set([...state.outdated, ...touchedBy(model, event.repair)]);
      return { ...next, done: [...state.done, event.repair], outdated, at: "", waiting: "" };
    }
    case "arrived":
      return arrived(model, state, act, new Map(Object.entries(event.setup)));
    case "waiting":
      lookup("check", act, model.checks);
      return { ...state, waiting: act };
    case "setup": {
      checkSetup(model, new Map([[event.variable, event.value]]));
      const setup = withKey(state.setup, event.variable, event.value);
      return { ...state, setup, waiting: "", skipped: withItem(state.skipped, "0 setup") };
    }
    case "skipped": {
      const answers = observationsOf(model);
      const { what } = event;
      known("question", what, [...model.site.keys(), ...model.measures.keys(), ...answers.keys(), ...FIRST]);
      const epoch = answers.has(what) ? state.done.length : 0;
      const over = (answers.get(what) ?? [""])[0] === state.waiting;
      const skipped = withItem(state.skipped, `${epoch} ${what}`);
      return { ...state, skipped, waiting: over ? "" : state.waiting };
    }
    case "heeded":
      lookup("rule", event.rule, model.rules);
      return { ...state, heeded: withItem(state.heeded, event.rule) };
    case "refilled":
      return { ...state, beforeRefill: state.seen.length, refilled: true };
    case "could_not": {
      known("check or repair", act, [...model.checks.keys(), ...model.repairs.keys(), PROOF]);
      const waiting = act === state.waiting ? "" : state.waiting;
      return { ...state, couldNot: withItem(state.couldNot, act), waiting };
    }
    case "part_missing": {
      lookup("part", part, model.parts);
      const partsHere = withoutItem(state.partsHere, part);
      return { ...state, partsMissing: withItem(state.partsMissing, part), partsHere };
    }
    case "part_here": {
      lookup("part", part, model.parts);
      const partsMissing = withoutItem(state.partsMissing, part);
      return { ...state, partsHere: withItem(state.partsHere, part), partsMissing };
    }
    case "note":
      return { ...state, notes: [...state.notes, event.text] };
    case "found":
      lookup("fault", event.fault, model.faults);
      known("way to find a fault", event.how, ["", ...HOWS]);
      return { ...state, found: withKey(state.found, event.fault, event.how) };
    case "ended":
      known("way to end a visit", event.end, ENDS);
      if (act) lookup("repair", act, model.repairs);
      return { ...state, ended: event };
    default:
      return state;
  }
}

function saw(model, state, observation, outcome) {
  const [check, outcomes] = lookup("observation", observation, observationsOf(model));
  known(`outcome of ${observation}`, outcome, outcomes);
  const seen = [...state.seen, [state.done.length, observation, outcome]];
  return { ...acted(model, state, check), seen, outdated: withoutItem(state.outdated, observation) };
}

// A number counts as seen, with the likeliest outcome, unless it was taken too early.
function readNumber(model, state, observation, text) {
  const reading = interpret(model, observation, text, state.measures);
  const epoch = state.done.length;
  if (reading.challenge) {
    if (reading.challenge.kind === "implausible") throw new UsageError(reading.challenge.says);
    return { ...state, readings: [...state.readings, { epoch, place: null, reading }] };
  }
  const place = state.seen.length;
  const next = saw(model, state, observation, reading.outcome);
  return { ...next, readings: [...state.readings, { epoch, place, reading }] };
}

// A measure of the site, in the light of which every number is read again.
function measured(model, state, measure, text) {
  tellMeasure(model, measure, lookup("measure", measure, model.measures), text);
  const measures = withKey(state.measures, measure, text);
  const seen = [...state.seen];
  const readings = state.readings.map(({ epoch, place, reading: old }) => {
    const reading = interpret(model, old.observation, old.text, measures);
    if (place !== null) seen[place] = [epoch, old.observation, reading.outcome];
    return { epoch, place, reading };
  });
  return { ...state, measures, seen, readings };
}

// After an act: as its route left it if that was walked, else what it touched is unknown.
function acted(model, state, act) {
  if (act === state.waiting) return { ...state, at: act, waiting: "" };
  if (act === state.at) return state;
  const last = state.since[state.since.length - 1] === act;
  const since = last ? state.since : [...state.since, act];
  const waiting = state.waiting && undisturbed(model, state, act) ? state.waiting : "";
  return { ...state, at: "", since, setup: new Map(), waiting };
}

// Whether an act can be done where the unit stands, and leaves it so.
function undisturbed(model, state, act) {
  const { needs, leaves } = needsAndLeaves(model, act);
  const now = new Map([...(state.walked ?? []), ...state.setup]);
  return !leaves.size && [...needs].every(([name, values]) => namedStates(values).includes(now.get(name)));
}

function needsAndLeaves(model, act) {
  return act === PROOF ? model.about.proof : (model.checks.get(act) ?? model.repairs.get(act));
}

function arrived(model, state, act, setup) {
  const acts = [...model.checks.keys(), ...model.repairs.keys(), PROOF, FINISH, ESCALATE];
  if (act) known("act", act, acts);
  checkSetup(model, setup);
  const same = state.walked !== null && state.walked.size === setup.size
    && [...setup].every(([name, value]) => state.walked.get(name) === value);
  const still = same && !state.since.length && !state.setup.size;
  const waiting = still ? state.waiting : "";
  return { ...state, walked: setup, at: act, since: [], setup: new Map(), waiting };
}

function checkSetup(model, setup) {
  for (const [name, value] of setup) {
    const variable = lookup("setup variable", name, model.setups.variables);
    lookup(`value of ${name}`, value, variable.values);
  }
}

// --- what follows from a state -----------------------------------------------------------------

// Observations made since the last repair, the latest answer of each.
const seenNow = (state) =>
  new Map(state.seen.filter(([epoch]) => epoch === state.done.length).map(([, n, o]) => [n, o]));

// The latest answer to each observation that no repair has touched since.
const stillKnown = (state) =>
  new Map(state.seen.filter(([, name]) => !state.outdated.has(name)).map(([, n, o]) => [n, o]));

// Answers since the last repair, or of the whole visit, without numbers that leave their outcome open.
function clearAnswers(state, nowOnly) {
  const unclear = new Set(state.readings.filter((r) => !r.reading.clear).map((r) => r.place));
  const found = new Map();
  state.seen.forEach(([epoch, name, outcome], place) => {
    if (nowOnly && epoch !== state.done.length) return;
    found.delete(name);
    if (!unclear.has(place)) found.set(name, outcome);
  });
  return found;
}

const timesSeen = (state, observation) =>
  state.seen.filter(([epoch, name]) => epoch === state.done.length && name === observation).length;
const wasSkipped = (state, observation) => state.skipped.has(`${state.done.length} ${observation}`);

// What the exact engine is asked: everything said, seen, read and done up to now.
function toQuestion(model, state) {
  const read = new Map(state.readings.map((one) => [one.place, one.reading.likelihood]));
  const answers = observationsOf(model);
  const seen = state.seen.map(([epoch, observation, outcome], place) => {
    const certain = answers.get(observation)[1].map((one) => (one === outcome ? 1 : 0));
    return { epoch, observation, likelihood: read.get(place) ?? certain };
  });
  return { site: state.site, complaints: state.complaints, done: state.done, seen };
}

// Draws of brine in the tank; without end in a model that does not say how much stands there.
function drawsLeft(model, state) {
  const { brine } = model.about;
  if (brine === null) return Infinity;
  const matches = ([name, values]) => namedStates(values).includes(state.site.get(name));
  const empty = !state.refilled && brine.empty_on.size > 0 && [...brine.empty_on].every(matches);
  let left = empty ? 0 : brine.draws;
  let made = null;
  let answered = new Set();
  for (const [, observation] of state.seen.slice(state.beforeRefill)) {
    const [check] = observationsOf(model).get(observation);
    if (model.checks.has(check) && (made !== check || answered.has(observation))) {
      left -= model.checks.get(check).spends_brine;
      made = check;
      answered = new Set();
    }
    answered.add(observation);
  }
  return left;
}

// Minutes of work and of waiting until the brine tank is fit for a check.
function refillTime(model, left, check) {
  const { brine } = model.about;
  const spends = model.checks.get(check).spends_brine;
  if (brine === null || left > Math.min(spends, brine.draws) - 1e-9) return [0, 0];
  return [brine.refill_minutes, brine.saturation_minutes];
}
