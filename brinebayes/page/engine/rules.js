// Which rules hold, given what is known; see `knowledge.rules`.

// [{id, rule, because}] in the order of their ids.
function firedRules(model, state) {
  const seen = historySeen(model, state);
  for (const [name, outcome] of clearAnswers(state, true)) seen.set(name, outcome);
  return rulesThatHold(model, state, seen);
}

// Observation of history -> its answer, whenever it was given.
function historySeen(model, state) {
  const ever = clearAnswers(state, false);
  const seen = new Map();
  for (const check of model.checks.values()) {
    for (const [name, one] of check.observations) {
      if (one.history && ever.has(name)) seen.set(name, ever.get(name));
    }
  }
  return seen;
}

// The same for what counts as seen; of `state` only site, complaints and repairs are asked.
function rulesThatHold(model, state, seen) {
  const found = [];
  for (const id of sorted(model.rules.keys())) {
    const rule = model.rules.get(id);
    const because = becauseOf(model, rule.when, state, seen);
    if (because !== null) found.push({ id, rule, because });
  }
  return found;
}

// The facts that make every part of `when` hold; null if one part does not.
function becauseOf(model, when, state, seen) {
  const parts = [];
  for (const [name, wanted] of when.saw) {
    const value = seen.get(name);
    const holds = value !== undefined && namedStates(wanted).includes(value);
    parts.push(holds ? `${nameOf(model, name)}: ${outcomeName(model, name, value)}` : null);
  }
  for (const [name, wanted] of when.site) {
    const value = state.site.get(name);
    const condition = model.site.get(name);
    const holds = value !== undefined && namedStates(wanted).includes(value);
    parts.push(holds ? `${condition.name}: ${condition.values.get(value).name}` : null);
  }
  if (when.not_seen.length) {
    const absent = when.not_seen.every((name) => !seen.has(name));
    parts.push(absent ? `not yet seen: ${when.not_seen.map((n) => nameOf(model, n)).join("; ")}` : null);
  }
  if (when.complaint.length) {
    const said = when.complaint.filter((name) => state.complaints.includes(name));
    const words = said.map((name) => model.complaints.get(name).name).join("; ");
    parts.push(said.length ? `complaint: ${words}` : null);
  }
  if (when.done.length) {
    const done = when.done.filter((name) => state.done.includes(name));
    const words = done.map((name) => model.repairs.get(name).name).join("; ");
    parts.push(done.length ? `done: ${words}` : null);
  }
  if (when.failed) {
    const failed = (state.seen ?? []).filter(([, name, outcome]) => name === PROOF && outcome === "failed").length;
    parts.push(failed >= when.failed ? `proofs that failed: ${failed}` : null);
  }
  return parts.includes(null) ? null : parts;
}

const observationOf = (model, name) => outlineOf(model).observations.get(name);
const nameOf = (model, name) =>
  name === PROOF ? model.about.proof.name : observationOf(model, name).name;
const outcomeName = (model, name, outcome) =>
  name === PROOF ? outcome : (observationOf(model, name).outcomes.get(outcome) ?? outcome);
