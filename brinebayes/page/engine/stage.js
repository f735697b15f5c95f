// Which question comes next; the same order as `dialogue.stage`. A prompt is {kind, subject,
// options: [{id, text}], observation, valued, route, refill, running, meanwhile, variables, text}.

const SERVICE_LIST = [
  "bypass_service",
  "line_and_lid",
  "clock_and_settings",
  "drain_dry",
  "no_leak",
  "customer_shown",
  "note_left",
];
const PARKED_LIST = ["bypass_parked", "line_and_lid", "no_leak", "customer_shown", "note_left"];
const CALLED_BACK = ["repaired_proof_pending", "second_visit_needed"];
const CALL_BACK_DAYS = 5;
const FITTING_BITS = 0.01;

const NO_FOCUS = Object.freeze({ act: "", parts: [], choosing: false, lookNow: false, leaving: null });

const prompt = (kind, more = {}) => ({
  kind,
  subject: "",
  options: [],
  observation: "",
  valued: null,
  route: null,
  refill: [0, 0],
  running: "",
  meanwhile: [],
  variables: [],
  text: "",
  ...more,
});

const option = (id, text = "") => ({ id, text });
const optionsOf = (names) => [...names].map(([id, text]) => option(id, text));

// What is asked before any advice, or null when all of it was asked. `fired`: the rules that hold.
function firstQuestion(model, routes, state, fired, focus) {
  if (focus.parts.length) return partPrompt(model, focus.parts[0]);
  const asked = (question) => state.skipped.has(`0 ${question}`);
  const more = state.complaints.length && (state.site.size || state.seen.length || state.done.length);
  if (!asked("complaint") && !more) {
    const left = [...model.complaints].filter(([name]) => !state.complaints.includes(name));
    if (left.length) {
      const options = left.map(([name, complaint]) => option(name, complaint.name));
      return prompt("complaint", { options });
    }
  }
  for (const { id, rule } of fired) {
    if (rule.kind === "make_safe" && !state.heeded.has(id)) {
      const options = [option("seen_to"), option("does_not_apply")];
      return prompt("make_safe", { subject: id, options });
    }
  }
  if (!asked("site")) {
    for (const [name, condition] of model.site) {
      if (state.site.has(name) || asked(name)) continue;
      const options = [...condition.values].map(([id, value]) => option(id, value.name));
      return prompt("site", { subject: name, options });
    }
  }
  if (state.walked === null && !asked("setup")) {
    const options = [option("as_usual"), option("otherwise")];
    return prompt("setup", { options, variables: toLookAt(routes) });
  }
  return null;
}

// How one part of the unit stands.
function partPrompt(model, name) {
  const variable = model.setups.variables.get(name);
  const acts = [...model.setups.moves.values(), ...model.checks.values(), ...model.repairs.values()];
  const left = new Set(acts.map((act) => act.leaves.get(name)));
  const real = ([value]) => value !== variable.worst || left.has(value) || value === variable.service;
  return prompt("part", { subject: name, options: optionsOf([...variable.values].filter(real)) });
}

// The parts of the unit that say how it stands; the others follow from these in service.
function toLookAt(routes) {
  if (routes.look) return routes.look;
  const service = routes.serviceState.join();
  let setup = new Map(routes.toService);
  const follows = (some) => {
    const start = attemptRoute(() => routes.start(some));
    return start === null || start.join() === service;
  };
  for (const name of [...setup.keys()].reverse()) {
    const rest = new Map([...setup].filter(([other]) => other !== name));
    const values = routes.values[routes.names.indexOf(name)];
    if (values.every((value) => follows(new Map(rest).set(name, value)))) setup = rest;
  }
  return (routes.look = [...setup.keys()]);
}

// --- leaving -----------------------------------------------------------------------------------

// The ends that fit what was done, the likeliest first.
function possibleEnds(state, fired) {
  const [proven, pending, , outside, open] = ENDS;
  if (!state.done.length) {
    const elsewhere = fired.some(({ rule }) => rule.kind === "outside");
    return elsewhere ? [outside, open] : [open, outside];
  }
  const proof = seenNow(state).get(PROOF);
  if (proof === "passed") return [proven];
  return proof === "failed" ? [open] : [pending];
}

function endOf(leaving, state, fired) {
  const ends = possibleEnds(state, fired);
  return leaving.end || (ends.length === 1 ? ends[0] : "");
}

// Whether the unit is left in bypass.
function isParked(end, fired) {
  const madeSafe = fired.some(({ rule }) => rule.kind === "make_safe");
  return end === "escalated" || (end === "second_visit_needed" && madeSafe);
}

const leavingList = (end, fired) => (isParked(end, fired) ? PARKED_LIST : SERVICE_LIST);

function takesOn(fired) {
  const named = fired.filter(({ rule }) => rule.kind === "escalates").map(({ rule }) => rule.to);
  return named[0] ?? "";
}

// The next question of the leave-taking. `leaving`: {end, act, to, stillOpen, days}; what is null
// has not been settled. `start`: how the unit stands, null if nobody knows.
function leavePrompt(model, routes, state, fired, leaving, start) {
  const end = endOf(leaving, state, fired);
  if (!end) {
    return prompt("which_end", { options: possibleEnds(state, fired).map((id) => option(id)) });
  }
  if (end === "escalated" && leaving.to === null) {
    return prompt("to_whom", { subject: leaving.act, text: takesOn(fired) });
  }
  if (leaving.stillOpen === null) {
    const options = leavingList(end, fired).map((id) => option(id));
    return prompt("leaving", { subject: end, options, route: wayOut(routes, end, fired, start) });
  }
  if (CALLED_BACK.includes(end) && leaving.days === null) {
    return prompt("call_back", { subject: end, text: String(callBackDays(model)) });
  }
  return null;
}

const callBackDays = (model) => Math.round(model.about.proof.later_days ?? CALL_BACK_DAYS);

function wayOut(routes, end, fired, start) {
  if (start === null) return null;
  return isParked(end, fired) ? routes.parked(start) : routes.service(start);
}

// The events that end a visit once everything about leaving is settled.
function endEvents(routes, state, fired, leaving, start, today) {
  const end = endOf(leaving, state, fired);
  const events = [];
  if (start !== null && !leaving.stillOpen.length) {
    const act = end === "escalated" ? ESCALATE : FINISH;
    const route = wayOut(routes, end, fired, start);
    events.push({ event: "arrived", act, setup: namedSetup(routes, route.end) });
  }
  let callBack = "";
  if (leaving.days) {
    const day = new Date(today);
    day.setDate(day.getDate() + leaving.days);
    const two = (n) => String(n).padStart(2, "0");
    callBack = `${day.getFullYear()}-${two(day.getMonth() + 1)}-${two(day.getDate())}`;
  }
  const { act, to, stillOpen } = leaving;
  events.push({ event: "ended", end, act, to: to ?? "", call_back: callBack, still_open: stillOpen });
  return events;
}

const namedSetup = (routes, state) =>
  Object.fromEntries(routes.names.map((name, axis) => [name, state[axis]]));

// --- acts --------------------------------------------------------------------------------------

const canWait = (model, check) => {
  const { waiting_minutes: time, leaves } = model.checks.get(check);
  return time > 0 && !leaves.size;
};

const holdsHere = (routes, setup, needs) =>
  [...needs].every(([name, values]) => namedStates(values).includes(setup[routes.names.indexOf(name)]));

// Checks that fit into the wait of `running` in a setup, in the order of their rank.
function meanwhileFits(model, routes, ranked, running, setup) {
  const time = model.checks.get(running).waiting_minutes;
  return ranked.filter(({ act, bits }) => {
    if (act.kind !== "check" || act.id === running || bits < FITTING_BITS) return false;
    const check = model.checks.get(act.id);
    const quiet = !check.leaves.size && !check.disturbs.includes(running);
    const short = !check.waiting_minutes && !check.spends_brine;
    const fits = check.minutes <= time && holdsHere(routes, setup, check.needs);
    return quiet && short && fits && !routes.way(setup, check.needs).moves.length;
  });
}

// The act to do now: the one taken from the list, what was begun, what fits, or the best.
// `now`: the situation; `ranked`: every open act, best first.
function actPrompt(now, ranked, focus) {
  const { model, state, routes, notes } = now;
  if (focus.choosing) {
    return prompt("choose", { options: ranked.map(({ act }) => option(act.id, act.name)) });
  }
  const taken = focus.act && ranked.find(({ act }) => act.id === focus.act);
  if (taken) return proposed(now, ranked, taken);
  let begun = state.waiting || (model.checks.has(state.at) ? state.at : "");
  if (begun && !state.waiting && !askedSome(model, state, begun)) begun = "";
  if (state.waiting && !focus.lookNow) {
    const [fits] = meanwhileFits(model, routes, ranked, state.waiting, now.start);
    if (fits) return proposed(now, ranked, fits);
  }
  const left = begun && !state.couldNot.has(begun) ? openQuestions(model, state, notes, begun) : [];
  if (left.length) {
    const { outcomes } = model.checks.get(begun).observations.get(left[0]);
    return prompt("question", { subject: begun, options: optionsOf(outcomes), observation: left[0] });
  }
  return proposed(now, ranked, ranked[0]);
}

// Whether a question of the check has been answered or skipped since the last repair.
function askedSome(model, state, check) {
  const seen = seenNow(state);
  const epoch = state.done.length;
  const read = state.readings.filter((one) => one.epoch === epoch).map((one) => one.reading.observation);
  return [...model.checks.get(check).observations.keys()].some(
    (name) => seen.has(name) || read.includes(name) || wasSkipped(state, name),
  );
}

function proposed(now, ranked, valued) {
  const { model, state, routes, notes } = now;
  const { act } = valued;
  const base = { subject: act.id, valued, route: act.route, running: state.waiting };
  switch (act.kind) {
    case "check": {
      const left = openQuestions(model, state, notes, act.id);
      const { observations } = model.checks.get(act.id);
      const name = left[0] ?? observations.keys().next().value;
      const options = optionsOf(observations.get(name).outcomes);
      const refill = refillTime(model, drawsLeft(model, state), act.id);
      const idle = !state.waiting && canWait(model, act.id);
      const fits = idle ? meanwhileFits(model, routes, ranked, act.id, act.end) : [];
      const meanwhile = fits.map((one) => one.act.id);
      return prompt("check", { ...base, options, observation: name, refill, meanwhile });
    }
    case "repair": {
      const missing = model.repairs.get(act.id).parts.filter((part) => !state.partsHere.has(part));
      const parts = missing.map((part) => option(`part_missing:${part}`, model.parts.get(part).name));
      return prompt("repair", { ...base, options: [option("done"), option("could_not"), ...parts] });
    }
    case "fetch":
      return prompt("fetch", { ...base, options: [option("part_here"), option("later")] });
    case "prove": {
      const options = PROOF_STATES.map((name) => option(name));
      return prompt("prove", { ...base, options, observation: PROOF });
    }
    case "finish":
      return prompt("finish", { ...base, options: [option("leave")], route: null });
    default: {
      const licensed = model.repairs.has(act.id);
      const route = licensed ? act.route : null;
      const kind = licensed ? "licensed" : "escalate";
      return prompt(kind, { ...base, options: [option("pass_on")], route });
    }
  }
}
