// The rows that a decision rests on: every joint state where there are few, draws where not; see
// `advice.table`.

// {futures, start, weights}: the futures that may be real now, with their weights. `repairs`: those
// that may come to be made, by id.
function tableOf(now, repairs, rows) {
  const { model, question } = now;
  const { search } = model;
  const every = everyAt(model, question.site);
  if (every === null) {
    const drawn = now.worlds(rows);
    const mendings = repairs.map((id) => mendingOf(now, id, drawn));
    const futures = new Futures(model, drawn, mendings, mendings.length, search.together);
    return { futures, start: placesIn(drawn.weights), weights: drawn.weights };
  }
  const findings = latestFindings(saidAndSeen(model, question), versionsOf(model, question.done));
  let weights = every.weights.slice();
  const weigh = ({ likelihood }, chances) => {
    weights = weights.map((w, r) => w * sum(likelihood.map((p, k) => p * chances[k][r])));
  };
  for (const one of findings) if (!one.copy) weigh(one, outcomeChances(model, one.observation, every));
  const possible = heaviest(weights, question.done.length ? search.most_rows : rows, search.negligible);
  const worlds = onlyRows(every, possible, possible.map((r) => weights[r]));
  const gone = unique(question.done).filter((id) => !repairs.includes(id));
  const names = [...repairs, ...gone];
  const mendings = names.map((id) => mendingOf(now, id, worlds));
  const futures = new Futures(model, worlds, mendings, repairs.length, search.together_of_all);
  weights = worlds.weights;
  let start = placesIn(weights);
  question.done.forEach((id, k) => {
    const again = question.done.slice(0, k).includes(id);
    const passage = futures.repaired(names.indexOf(id), start, again);
    weights = carried(passage, weights);
    start = passage.futures;
    for (const one of findings) {
      if (one.copy === k + 1) weigh(one, futures.likelihoods(one.observation, start));
    }
  });
  const kept = heaviest(weights, rows, search.negligible);
  const total = sum(kept.map((k) => weights[k]));
  return { futures, start: kept.map((k) => start[k]), weights: Float64Array.from(kept, (k) => weights[k] / total) };
}

const placesIn = (column) => Array.from(column, (_, k) => k);

// Weights of what a passage reaches.
function carried({ futures, start, end, chances }, weights) {
  const out = new Float64Array(futures.length);
  for (let k = 0; k < end.length; k++) out[end[k]] += weights[start[k]] * chances[k];
  return out;
}

// Places of the heaviest rows, in order; the lightest make up less than `negligible`.
function heaviest(weights, rows, negligible) {
  const order = placesIn(weights);
  order.sort((a, b) => compared(weights[b]) - compared(weights[a]) || a - b);
  let sofar = 0;
  const ends = order.map((k) => (sofar += weights[k]));
  let enough = ends.findIndex((end) => end >= sofar * (1 - negligible));
  enough = enough < 0 ? order.length : enough + 1;
  return order.slice(0, Math.min(rows, enough)).sort((a, b) => a - b);
}

// A repair as the futures see it. Where it failed before and luck is shared it fails again.
function mendingOf({ model, question }, id, worlds) {
  const repair = model.repairs.get(id);
  let stuck = null;
  if (repair.same_luck && question.done.includes(id)) {
    stuck = new Uint8Array(worlds.count);
    for (const fault of repair.clears.keys()) {
      const here = worlds.first.faults.get(fault);
      for (let r = 0; r < stuck.length; r++) stuck[r] |= here[r];
    }
  }
  return { clears: [...repair.clears], harms: [...repair.harms], stuck };
}

// Every joint state at a site, kept, or null where there are too many.
function everyAt(model, site) {
  model.every ??= new Map();
  const key = sorted([...site].map((pair) => pair.join("="))).join();
  if (!model.every.has(key)) model.every.set(key, everyWorld(model, site));
  return model.every.get(key);
}
