// What depends on what in a model, and how often a repair makes it anew.

const WORKS = "works";
const PROOF = "proof";
const FAULT_STATES = ["absent", "present"];
const PROOF_STATES = ["passed", "failed"];

const parentsIn = (conditions) => unique(conditions.flatMap((when) => [...when.keys()]));

// {observations, states, parents, order, history}; see `network.graph`.
function outlineOf(model) {
  if (model.outline) return model.outline;
  const observations = new Map();
  for (const check of model.checks.values()) {
    for (const [name, one] of check.observations) observations.set(name, one);
  }
  const states = new Map();
  const parents = new Map();
  for (const name of model.faults.keys()) states.set(name, FAULT_STATES);
  for (const [name, mechanism] of model.mechanisms) {
    states.set(name, mechanism.states);
    parents.set(name, parentsIn([...mechanism.causes, ...mechanism.cases].map((one) => one.when)));
  }
  for (const [name, condition] of model.site) states.set(name, [...condition.values.keys()]);
  for (const [name, one] of observations) {
    states.set(name, [...one.outcomes.keys()]);
    parents.set(name, parentsIn(one.rows.map((row) => row.when)));
  }
  for (const [name, complaint] of model.complaints) {
    states.set(name, ["said", "not_said"]);
    parents.set(name, parentsIn(complaint.rows.map((row) => row.when)));
  }
  states.set(WORKS, ["no", "yes"]);
  states.set(PROOF, PROOF_STATES);
  parents.set(WORKS, [...model.about.works.keys()]);
  parents.set(PROOF, [WORKS]);
  const past = [...observations].filter(([, one]) => one.history).map(([name]) => name);
  const history = new Set([...model.complaints.keys(), ...past]);
  model.outline = { observations, states, parents, order: model.order, history };
  return model.outline;
}

// For each id the epoch of its newest copy, per epoch 0 .. done.length.
function versionsOf(model, done) {
  const { parents, order, observations, history } = outlineOf(model);
  const later = [...order, ...observations.keys(), WORKS, PROOF];
  const roots = [...model.faults.keys(), ...model.site.keys(), ...model.complaints.keys()];
  const newest = new Map([...roots, ...later].map((name) => [name, [0]]));
  done.forEach((id, k) => {
    const epoch = k + 1;
    const repair = lookup("repair", id, model.repairs);
    const touched = (name) => repair.clears.has(name) || repair.harms.has(name);
    const add = (name, anew) => {
      const epochs = newest.get(name);
      epochs.push(anew ? epoch : epochs[epochs.length - 1]);
    };
    for (const name of roots) add(name, touched(name));
    for (const name of later) {
      const copied = parents.get(name).some((p) => newest.get(p)[epoch] === epoch);
      add(name, !history.has(name) && copied);
    }
  });
  return newest;
}

// Everything that a repair may change.
const touchedBy = (model, repair) =>
  [...versionsOf(model, [repair])].filter(([, epochs]) => epochs[1]).map(([name]) => name);

function newestCopy(newest, id, epoch) {
  if (!newest.has(id)) throw new UsageError(`the model has nothing named '${id}' to observe`);
  const epochs = newest.get(id);
  if (!(epoch >= 0 && epoch < epochs.length)) throw new UsageError(`no epoch ${epoch} of ${id}`);
  return epochs[epoch];
}

const nodeName = (id, epoch) => (epoch ? `${id}@${epoch}` : id);

// Every combination of so many states each, the last running fastest.
function* combinations(counts) {
  const at = counts.map(() => 0);
  if (counts.some((count) => count === 0)) return;
  for (;;) {
    yield at;
    let k = counts.length - 1;
    while (k >= 0 && ++at[k] === counts[k]) at[k--] = 0;
    if (k < 0) return;
  }
}

// For each parent of a condition, the places of the states it accepts.
function accepted(model, when) {
  const { states } = outlineOf(model);
  const places = (name, wanted) => namedStates(wanted).map((one) => states.get(name).indexOf(one));
  return new Map([...when].map(([name, wanted]) => [name, new Set(places(name, wanted))]));
}

// (combinations of the parents' states) -> place of the first line whose condition holds.
function firstHolding(model, parents, conditions) {
  const { states } = outlineOf(model);
  const tests = conditions.map((when) => [...accepted(model, when)]);
  const axis = new Map(parents.map((name, i) => [name, i]));
  const found = [];
  for (const at of combinations(parents.map((name) => states.get(name).length))) {
    const holds = (test) => test.every(([name, places]) => places.has(at[axis.get(name)]));
    found.push(tests.findIndex(holds));
  }
  return found;
}

const spreadOver = (states, spread) =>
  spread === null ? states.map((_, i) => (i ? 0 : 1)) : states.map((s) => spread.get(s) ?? 0);

// Parents, number of outcomes and flat P(outcome | parents) of an observation or a complaint.
function observationTable(model, name) {
  const { observations, states, parents } = outlineOf(model);
  const outcomes = states.get(name);
  const item = observations.get(name) ?? model.complaints.get(name);
  const misreading = observations.has(name) ? item.misreading : 0;
  const given = item.rows.map((row) => spreadOver(outcomes, row.gives));
  const mixed = given.map((r) => r.map((p) => (1 - misreading) * p + misreading / outcomes.length));
  const which = firstHolding(model, parents.get(name), item.rows.map((row) => row.when));
  return { parents: parents.get(name), outcomes, rows: which.map((place) => mixed[place]) };
}
