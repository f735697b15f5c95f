// Weighted joint states of the unit, drawn from calibrated trees with the same numbers, and so the
// same rows, as `network.sampling` and `network.draws` make.

const RARE = 1e-4;
const FEWEST_ROWS = 4;
const PLAIN = 0.125;
const RAKES = 4;
const FAILING = 0.5;

// The first place in running sums (from, count of them) that is above `aim`.
function pick(ends, from, count, aim) {
  let low = 0;
  let high = count - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ends[from + middle] <= aim) low = middle + 1;
    else high = middle;
  }
  return low;
}

// For each slot of a clique the entries of its parent that agree with it, one slot after another.
function parentEntries(one) {
  if (!one.above) {
    const each = one.fromParent.length / one.slots;
    const next = new Int32Array(one.slots);
    const entries = new Int32Array(one.fromParent.length);
    for (let e = 0; e < entries.length; e++) {
      const slot = one.fromParent[e];
      entries[slot * each + next[slot]++] = e;
    }
    one.above = { each, entries };
  }
  return one.above;
}

// The entries of the clique of a variable in which it is in a state: {clique, choices}.
function entriesIn(tree, variable, state) {
  const site = tree.site([variable]);
  site.choices ??= Array.from({ length: tree.count.get(variable) }, (_, wanted) => {
    const found = [];
    for (let e = 0; e < site.places.length; e++) if (site.places[e] === wanted) found.push(e);
    return Int32Array.from(found);
  });
  return { clique: site.clique, choices: site.choices[state] };
}

// Joint samples of all tree variables: {count, paths: Map name -> Uint8Array}. `strata`: [variable,
// state, rows], after the `rows` plain ones.
function drawJoint(beliefs, rows, seed, strata) {
  const { tree, tables } = beliefs;
  const total = rows + sum(strata.map(([, , count]) => count));
  const chance = new Chance(seed).randoms(tree.cliques.length * total);
  // Of each clique the entry that is drawn, counted from its first.
  const chosen = tree.cliques.map(() => new Int32Array(total).fill(-1));
  const ends = new Float64Array(Math.max(...tree.cliques.map((one) => one.size)));
  let row = rows;
  for (const [variable, state, count] of strata) {
    const { clique, choices } = entriesIn(tree, variable, state);
    const { from } = tree.cliques[clique];
    let sofar = 0;
    for (let k = 0; k < choices.length; k++) ends[k] = sofar += tables[from + choices[k]];
    const first = row;
    for (; row < first + count; row++) {
      const aim = chance[clique * total + row] * sofar;
      chosen[clique][row] = choices[pick(ends, 0, choices.length, aim)];
    }
    toTheRoot(beliefs, clique, first, row, total, chance, chosen, ends);
  }
  for (let i = 0; i < tree.cliques.length; i++) {
    const { from, size, rest, parent, fromParent } = tree.cliques[i];
    for (let e = 0; e < size; e += rest) {
      let sofar = 0;
      for (let k = e; k < e + rest; k++) ends[k] = sofar += tables[from + k];
    }
    const mine = chosen[i];
    const above = parent < 0 ? null : chosen[parent];
    for (let r = 0; r < total; r++) {
      if (mine[r] >= 0) continue;
      const start = above === null ? 0 : fromParent[above[r]] * rest;
      mine[r] = start + pick(ends, start, rest, chance[i * total + r] * ends[start + rest - 1]);
    }
  }
  const paths = new Map();
  for (const name of tree.names) {
    const { clique, places } = tree.site([name]);
    const mine = chosen[clique];
    const column = new Uint8Array(total);
    for (let r = 0; r < total; r++) column[r] = places[mine[r]];
    paths.set(name, column);
  }
  return { count: total, paths };
}

// From the clique where some rows start, draw one parent after the other given the clique below.
function toTheRoot({ tree, tables }, clique, first, last, total, chance, chosen, ends) {
  for (let below = clique; tree.cliques[below].parent >= 0; below = tree.cliques[below].parent) {
    const one = tree.cliques[below];
    const { each, entries } = parentEntries(one);
    const { from } = tree.cliques[one.parent];
    for (let row = first; row < last; row++) {
      const start = Math.floor(chosen[below][row] / one.rest) * each;
      let sofar = 0;
      for (let k = 0; k < each; k++) ends[k] = sofar += tables[from + entries[start + k]];
      const aim = chance[one.parent * total + row] * sofar;
      chosen[one.parent][row] = entries[start + pick(ends, 0, each, aim)];
    }
  }
}

// All draws, in their order.
const eachRow = ({ count }) => ({
  order: Array.from({ length: count }, (_, row) => row),
  counts: new Array(count).fill(1),
});

// The draws before their noise is drawn: {count, paths, weights, effectiveDraws}.
function drawRows(ground, mixture, n, seed, merge) {
  const { model, trees } = ground;
  const base = mixture.terms[0].beliefs;
  const pairs = [];
  for (const fault of model.faults.keys()) {
    for (let k = 1; k < trees.paths.get(fault).length; k++) pairs.push([fault, k]);
  }
  const spread = ({ side, beliefs }) =>
    [...model.faults.keys()].flatMap((fault) => [...side.spread(beliefs, fault)].slice(1));
  const wanted = mixture.sum(spread);
  const found = spread(mixture.terms[0]);
  const scale = Math.max(sum(wanted), RARE);
  const strata = [];
  pairs.forEach(([fault, state], k) => {
    if (!(wanted[k] > RARE && found[k] > 0)) return;
    const rows = Math.max(FEWEST_ROWS, Math.round(((1 - PLAIN) * n * wanted[k]) / scale));
    strata.push({ name: fault, state, rows, share: found[k] });
  });
  strata.push(...failingStrata(ground, base, Math.ceil(FAILING * n)));
  const plain = Math.ceil(PLAIN * n);
  const asked = strata.map(({ name, state, rows }) => [name, state, rows]);
  const draws = drawJoint(base, plain, seed, asked);
  const { order, counts } = merge ? mergedRows(trees.whole.tree.names, draws) : eachRow(draws);
  const density = new Float64Array(order.length).fill(plain);
  for (const { name, state, rows, share } of strata) {
    const column = draws.paths.get(name);
    const more = rows / share;
    for (let k = 0; k < density.length; k++) if (column[order[k]] === state) density[k] += more;
  }
  const likelihood = likelihoodOfRows(ground, draws, order);
  const kept = order.map((_, k) => k).filter((k) => likelihood[k] / density[k] > 0);
  const each = kept.map((k) => likelihood[k] / density[k]);
  const weights = Float64Array.from(kept, (k, i) => counts[k] * each[i]);
  const total = sum(weights);
  const squares = sum(kept.map((_, i) => weights[i] * each[i]));
  const places = kept.map((k) => order[k]);
  const effectiveDraws = (total * total) / squares;
  const paths = takenAll(draws.paths, places);
  return { count: kept.length, paths, weights: weights.map((w) => w / total), effectiveDraws };
}

// Strata for the states in which the unit does not work at a proof that says so.
function failingStrata(ground, base, n) {
  const pairs = new Map();
  for (const proof of ground.findings) {
    if (proof.observation !== PROOF || !(proof.likelihood[1] > proof.likelihood[0])) continue;
    for (const [name, good] of ground.working(proof.epoch)) {
      good.forEach((fine, state) => {
        if (!fine) pairs.set(`${name} ${state}`, { name, state });
      });
    }
  }
  const all = [...pairs.values()];
  for (const one of all) one.share = marginal(base, [one.name])[one.state];
  const total = sum(all.map((one) => one.share));
  const possible = all.filter((one) => one.share > 0);
  return possible.map((one) => ({ ...one, rows: Math.max(1, Math.round((n * one.share) / total)) }));
}

// For each of some rows P(call and what proofs showed | row).
function likelihoodOfRows(ground, draws, order) {
  const { model, trees } = ground;
  const any = new Uint8Array(draws.count);
  for (const fault of model.faults.keys()) {
    const first = trees.paths.get(fault).at(0);
    const column = draws.paths.get(fault);
    for (let row = 0; row < any.length; row++) if (first[column[row]] === 1) any[row] = 1;
  }
  const result = Float64Array.from(order, (row) => (any[row] ? 1 : model.odds.call_without_fault));
  for (const proof of ground.findings) {
    if (proof.observation !== PROOF) continue;
    const needed = ground.working(proof.epoch).map(([name, good]) => [draws.paths.get(name), good]);
    const [fails, works] = ground.proofLikelihoods(proof);
    order.forEach((row, k) => {
      result[k] *= needed.every(([column, good]) => good[column[row]] > 0) ? works : fails;
    });
  }
  return result;
}

// The different rows among draws, in the order of a 64-bit sum of their bytes (see
// `network.sampling`), and how often each occurs.
function mergedRows(names, draws) {
  const words = Math.ceil(names.length / 8);
  const chance = new Chance(0);
  const factors = new Uint32Array(2 * words);
  for (let w = 0; w < words; w++) {
    const [high, low] = chance.bits();
    factors.set([high, low | 1], 2 * w);
  }
  const width = 8 * words;
  const bytes = new Uint8Array(draws.count * width);
  names.forEach((name, i) => {
    const column = draws.paths.get(name);
    for (let row = 0; row < column.length; row++) bytes[row * width + i] = column[row];
  });
  const halves = new Uint32Array(bytes.buffer);
  const keys = new Float64Array(draws.count);
  const lows = new Float64Array(draws.count);
  for (let row = 0; row < draws.count; row++) {
    let low = 0;
    let high = 0;
    for (let w = 0; w < words; w++) {
      const at = 2 * (row * words + w);
      multiply(halves[at + 1], halves[at], factors[2 * w], factors[2 * w + 1]);
      // The high word of a product never reaches the low one: fold it down before the next.
      const back = 2 * (words - 1 - w);
      multiply(PRODUCT[0], PRODUCT[1] ^ PRODUCT[0], factors[back], factors[back + 1]);
      low += PRODUCT[1];
      high = (high + PRODUCT[0] + (low > 0xffffffff ? 1 : 0)) >>> 0;
      low >>>= 0;
    }
    keys[row] = high;
    lows[row] = low;
  }
  const all = Array.from(keys, (_, row) => row);
  all.sort((a, b) => keys[a] - keys[b] || lows[a] - lows[b] || a - b);
  const order = [];
  const counts = [];
  for (const row of all) {
    const last = order[order.length - 1];
    if (order.length && keys[last] === keys[row] && lows[last] === lows[row]) counts[counts.length - 1]++;
    else {
      order.push(row);
      counts.push(1);
    }
  }
  return { order, counts };
}

// --- noise and site ----------------------------------------------------------------------------

// What the noise of a tree needs, prepared once: names, thresholds of those that no step speaks of
// (else null), and the steps, from few combinations of noise to many.
function noiseOf(model, trees) {
  if (trees.noise) return trees.noise;
  const names = [];
  const effects = [];
  for (const [name, { leak, causes, states }] of model.mechanisms) {
    const add = (cause, effect) => {
      names.push(noiseName(name, cause));
      effects.push(spreadOver(states, effect));
    };
    if (leak !== null) add(null, leak);
    causes.forEach((cause, j) => add(j, cause.effect));
  }
  const steps = trees.steps.filter((step) => step.sources.length).map((step) => preparedStep(trees, step));
  steps.sort((a, b) => a.each - b.each || a.sources.length - b.sources.length);
  const spoken = new Set(steps.flatMap((step) => step.sources));
  const thresholds = names.map((name, i) => {
    let sofar = 0;
    return spoken.has(name) ? null : effects[i].slice(0, -1).map((p) => (sofar += p));
  });
  return (trees.noise = { names, thresholds, steps });
}

// An entry of a step is what a row may say of it: the path before, its parents, the path after.
// `ends`: of each entry the running chances of the combinations of noise that lead there. `states`:
// of each source its state in each combination.
function preparedStep(trees, { mechanism, variable, previous, parents, sources, noise, chances, which }) {
  const each = chances.length;
  const after = trees.paths.get(variable).length;
  const ends = new Float64Array(which.length * after);
  for (let row = 0; row < which.length / each; row++) {
    for (let end = 0; end < after; end++) {
      let sofar = 0;
      for (let k = 0; k < each; k++) {
        if (which[row * each + k] === end) sofar += chances[k];
        ends[(row * after + end) * each + k] = sofar;
      }
    }
  }
  const columns = [...(previous === null ? [] : [previous]), ...parents, variable];
  const widths = columns.map((name) => trees.paths.get(name).length);
  const states = sources.map((_, i) => Uint8Array.from(noise, (at) => at[i]));
  return { each, ends, columns, widths, states, sources: sources.map((j) => noiseName(mechanism, j)) };
}

// The state that every source of noise would bring about in each row: a Map.
function completedNoise(model, trees, rows, chance) {
  const { names, thresholds, steps } = noiseOf(model, trees);
  const noise = new Map();
  const luck = new Float64Array(rows.count);
  names.forEach((name, i) => {
    const column = new Uint8Array(rows.count);
    noise.set(name, column);
    if (thresholds[i] === null) {
      chance.skip(rows.count);
      return;
    }
    chance.fill(luck);
    for (const threshold of thresholds[i]) {
      for (let r = 0; r < luck.length; r++) if (luck[r] >= threshold) column[r]++;
    }
  });
  for (const { each, ends, columns, widths, states, sources } of steps) {
    const entry = new Int32Array(rows.count);
    columns.forEach((name, k) => {
      const column = rows.paths.get(name);
      const width = widths[k];
      for (let r = 0; r < entry.length; r++) entry[r] = entry[r] * width + column[r];
    });
    chance.fill(luck);
    for (let r = 0; r < entry.length; r++) {
      const from = entry[r] * each;
      const aim = luck[r] * ends[from + each - 1];
      let picked = 0;
      while (picked < each - 1 && aim >= ends[from + picked]) picked++;
      entry[r] = picked;
    }
    sources.forEach((name, i) => noise.set(name, taken(states[i], entry)));
  }
  return noise;
}

// --- the rows of the present unit --------------------------------------------------------------

// About `n` rows over all epochs: {count, site, noise, weights, effectiveDraws, present: epoch ->
// Map of faults}.
function drawStates(ground, mixture, n, seed, merge) {
  const { model, trees } = ground;
  const rows = drawRows(ground, mixture, n, seed, merge);
  const chance = new Chance(seed, 1);
  const noise = completedNoise(model, trees, rows, chance);
  const site = new Map();
  for (const name of model.site.keys()) {
    if (rows.paths.has(name)) {
      site.set(name, rows.paths.get(name));
      continue;
    }
    let sofar = 0;
    const ends = siteChances(model, ground.site, name).map((p) => (sofar += p)).slice(0, -1);
    const column = new Uint8Array(rows.count);
    const luck = chance.randoms(rows.count);
    for (const end of ends) for (let r = 0; r < luck.length; r++) if (end <= luck[r]) column[r]++;
    site.set(name, column);
  }
  const present = (epoch) =>
    new Map(
      [...model.faults.keys()].map((fault) => {
        const at = trees.paths.get(fault).at(newestCopy(trees.newest, fault, epoch));
        const path = rows.paths.get(fault);
        const column = new Uint8Array(path.length);
        for (let r = 0; r < column.length; r++) column[r] = at[path[r]];
        return [fault, column];
      }),
    );
  const { count, weights, effectiveDraws } = rows;
  return { count, site, noise, weights, effectiveDraws, present };
}

// The rows as the unit is now: with faults, mechanisms, works, and `first`, as it was found.
function drawWorlds(ground, mixture, n, seed) {
  const { model, last } = ground;
  const { present, ...rows } = drawStates(ground, mixture, n, seed, true);
  const now = evaluate(model, { ...rows, faults: present(last) });
  const first = last ? evaluate(model, { ...rows, faults: present(0) }) : now;
  const exact = [...mixture.faults, mixture.noFault];
  const weights = raked(rows.weights, now.faults, first.faults, exact);
  return { ...now, weights, works: worksIn(model, now), first };
}

// Weights scaled until each fault, and none at all at first, has its exact probability.
function raked(weights, faults, first, exact) {
  const none = new Uint8Array(weights.length).fill(1);
  for (const column of first.values()) for (let r = 0; r < none.length; r++) none[r] &= 1 - column[r];
  const holders = [...faults.values(), none].map((column) => {
    const rows = [];
    for (let r = 0; r < column.length; r++) if (column[r]) rows.push(r);
    return rows;
  });
  const out = weights.slice();
  // What all rows are scaled by, but those that are written down in `out`.
  let scale = 1;
  for (let turn = 0; turn < RAKES; turn++) {
    for (let k = 0; k < holders.length; k++) {
      const rows = holders[k];
      let now = 0;
      for (let i = 0; i < rows.length; i++) now += out[rows[i]];
      now *= scale;
      const wanted = exact[k];
      if (!(now > 0 && now < 1 && wanted > 0 && wanted < 1)) continue;
      const down = (1 - wanted) / (1 - now);
      const up = wanted / now / down;
      scale *= down;
      for (let i = 0; i < rows.length; i++) out[rows[i]] *= up;
    }
  }
  const total = sum(out);
  return out.map((w) => w / total);
}
