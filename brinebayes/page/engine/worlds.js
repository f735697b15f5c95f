// Joint states of a unit: the deterministic functions of the model over many rows at once.
// Rows lie by column: a Uint8Array of places over the rows.

// A condition made ready for rows: [name, for each state whether it is accepted], kept by condition.
function readyCondition(model, when) {
  model.conditions ??= new WeakMap();
  let found = model.conditions.get(when);
  if (!found) {
    const { states } = outlineOf(model);
    found = [...accepted(model, when)].map(([name, places]) => [
      name,
      Uint8Array.from(states.get(name), (_, place) => Number(places.has(place))),
    ]);
    model.conditions.set(when, found);
  }
  return found;
}

// For each row whether a condition holds. `rows`: {count, site, faults, mechanisms}, Maps.
function holdsIn(model, rows, when) {
  const out = new Uint8Array(rows.count).fill(1);
  for (const [name, fits] of readyCondition(model, when)) {
    const column = columnOf(model, rows, name);
    for (let r = 0; r < out.length; r++) out[r] &= fits[column[r]];
  }
  return out;
}

function columnOf(model, rows, name) {
  const column = rows.faults.get(name) ?? rows.mechanisms.get(name) ?? rows.site.get(name);
  if (!column) throw new UsageError(`site condition '${name}' is needed and not given`);
  return column;
}

const noiseName = (mechanism, cause) =>
  cause === null ? `${mechanism}__leak` : `${mechanism}__n${cause}`;

// The state of every mechanism in every row, put into `rows.mechanisms`.
function evaluate(model, rows) {
  rows.mechanisms = new Map();
  for (const name of model.order) {
    const mechanism = model.mechanisms.get(name);
    const state = new Uint8Array(rows.count);
    if (mechanism.cases.length) {
      const which = firstIn(model, rows, mechanism.cases.map((one) => one.when));
      const then = mechanism.cases.map((one) => mechanism.states.indexOf(one.then));
      for (let r = 0; r < rows.count; r++) state[r] = then[which[r]];
    } else {
      if (mechanism.leak !== null) state.set(rows.noise.get(noiseName(name, null)));
      mechanism.causes.forEach((cause, j) => {
        const acts = holdsIn(model, rows, cause.when);
        const brought = rows.noise.get(noiseName(name, j));
        for (let r = 0; r < rows.count; r++) {
          if (acts[r] && brought[r] > state[r]) state[r] = brought[r];
        }
      });
    }
    rows.mechanisms.set(name, state);
  }
  return rows;
}

// For each row the place of the first condition that holds, -1 if none does.
function firstIn(model, rows, conditions) {
  const which = new Int16Array(rows.count).fill(-1);
  conditions.forEach((when, place) => {
    const here = holdsIn(model, rows, when);
    for (let r = 0; r < rows.count; r++) if (which[r] < 0 && here[r]) which[r] = place;
  });
  return which;
}

// For each row whether the unit does its work.
const worksIn = (model, rows) => holdsIn(model, rows, model.about.works);

// P(outcome | row) of an observation, complaint or the proof: one Float64Array per outcome.
function outcomeChances(model, name, rows) {
  if (name === PROOF) {
    const { passes_if_works: right, passes_if_not: wrong } = model.about.proof;
    const passed = chancesAt(Float64Array.of(wrong, right), worksIn(model, rows));
    return [passed, passed.map((p) => 1 - p)];
  }
  const { observations, states } = outlineOf(model);
  const item = observations.get(name) ?? model.complaints.get(name);
  const misreading = observations.has(name) ? item.misreading : 0;
  const outcomes = states.get(name);
  const table = item.rows.map((row) =>
    spreadOver(outcomes, row.gives).map((p) => (1 - misreading) * p + misreading / outcomes.length),
  );
  const which = firstIn(model, rows, item.rows.map((row) => row.when));
  return outcomes.map((_, k) => chancesAt(Float64Array.from(table, (row) => row[k]), which));
}
