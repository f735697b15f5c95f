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
function parentEntries(tree, clique) {
  const one = tree.cliques[clique];
  if (!one.above) {
    const each = one.fromParent.length / one.slots;
    const next = new Int32Array(one.slots);
    const entries = new Int32Array(one.fromParent.length);
    one.fromParent.forEach((slot, e) => {
      entries[slot * each + next[slot]++] = e;
    });
    one.above = { each, entries };
  }
  return one.above;
}

// Joint samples of all tree variables: {count, paths: Map name -> Int8Array}. `strata`: [variable,
// state, rows], after the `rows` plain ones.
function drawJoint(beliefs, rows, seed, strata) {
  const { tree, tables } = beliefs;
  const total = rows + sum(strata.map(([, , count]) => count));
  const chance = new Chance(seed).randoms(tree.cliques.length * total);
  const chosen = tree.cliques.map(() => new Int32Array(total).fill(-1));
  let row = rows;
  for (const [variable, state, count] of strata) {
    const { clique, places } = tree.site([variable]);
    const choices = [];
    const ends = [];
    let sofar = 0;
    places.forEach((place, e) => {
      if (place !== state) return;
      choices.push(e);
      ends.push((sofar += tables[clique][e]));
    });
    for (let k = 0; k < count; k++, row++) {
      const aim = chance[clique * total + row] * sofar;
      chosen[clique][row] = choices[pick(ends, 0, ends.length, aim)];
      toTheRoot(beliefs, clique, row, total, chance, chosen);
    }
  }
  tree.cliques.forEach((one, i) => {
    const ends = tables[i].slice();
    for (let e = 0; e < ends.length; e++) if (e % one.rest) ends[e] += ends[e - 1];
    for (let r = 0; r < total; r++) {
      if (chosen[i][r] >= 0) continue;
      const slot = one.parent < 0 ? 0 : one.fromParent[chosen[one.parent][r]];
      const from = slot * one.rest;
      const aim = chance[i * total + r] * ends[from + one.rest - 1];
      chosen[i][r] = from + pick(ends, from, one.rest, aim);
    }
  });
  const paths = new Map();
  for (const name of tree.names) {
    const { clique, places } = tree.site([name]);
    paths.set(name, Int8Array.from(chosen[clique], (e) => places[e]));
  }
  return { count: total, paths };
}

// From the clique where a row starts, draw one parent after the other given the clique below.
function toTheRoot({ tree, tables }, clique, row, total, chance, chosen) {
  for (let below = clique; tree.cliques[below].parent >= 0; below = tree.cliques[below].parent) {
    const one = tree.cliques[below];
    const { each, entries } = parentEntries(tree, below);
    const from = Math.floor(chosen[below][row] / one.rest) * each;
    const ends = new Float64Array(each);
    let sofar = 0;
    for (let k = 0; k < each; k++) ends[k] = sofar += tables[one.parent][entries[from + k]];
    const aim = chance[one.parent * total + row] * sofar;
    chosen[one.parent][row] = entries[from + pick(ends, 0, each, aim)];
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
  const spread = (beliefs) => {
    const of = new Map([...model.faults.keys()].map((f) => [f, marginal(beliefs, [f])]));
    return pairs.map(([fault, k]) => of.get(fault)[k]);
  };
  const wanted = mixture.sum(spread);
  const found = spread(base);
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
  const { order, counts } = merge ? mergedRows(trees.tree.names, draws) : eachRow(draws);
  const density = new Float64Array(order.length).fill(plain);
  for (const { name, state, rows, share } of strata) {
    const column = draws.paths.get(name);
    order.forEach((row, k) => {
      if (column[row] === state) density[k] += rows / share;
    });
  }
  const likelihood = likelihoodOfRows(ground, draws, order);
  const kept = order.map((_, k) => k).filter((k) => likelihood[k] / density[k] > 0);
  const each = kept.map((k) => likelihood[k] / density[k]);
  const weights = Float64Array.from(kept, (k, i) => counts[k] * each[i]);
  const total = sum(weights);
  const squares = sum(kept.map((_, i) => weights[i] * each[i]));
  const paths = new Map();
  for (const [name, column] of draws.paths) {
    paths.set(name, Int8Array.from(kept, (k) => column[order[k]]));
  }
  const effectiveDraws = (total * total) / squares;
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
    draws.paths.get(fault).forEach((path, row) => {
      if (first[path] === 1) any[row] = 1;
    });
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
  const factors = Array.from({ length: words }, () => {
    const [high, low] = chance.bits();
    return [high, (low | 1) >>> 0];
  });
  const columns = names.map((name) => draws.paths.get(name));
  const bytes = new Uint8Array(words * 8);
  const halves = new Uint32Array(bytes.buffer);
  const first = new Map();
  const counts = new Map();
  for (let row = 0; row < draws.count; row++) {
    columns.forEach((column, i) => {
      bytes[i] = column[row];
    });
    let low = 0;
    let high = 0;
    for (let w = 0; w < words; w++) {
      multiply(halves[2 * w + 1], halves[2 * w], ...factors[w]);
      // The high word of a product never reaches the low one: fold it down before the next.
      multiply(PRODUCT[0], (PRODUCT[1] ^ PRODUCT[0]) >>> 0, ...factors[words - 1 - w]);
      low += PRODUCT[1];
      high = (high + PRODUCT[0] + (low > 0xffffffff ? 1 : 0)) >>> 0;
      low >>>= 0;
    }
    const key = high.toString(16).padStart(8, "0") + low.toString(16).padStart(8, "0");
    if (!first.has(key)) first.set(key, row);
    counts.set(key, (counts.get(key) ?? 0) + 1);
  }
  const keys = sorted(first.keys());
  return { order: keys.map((key) => first.get(key)), counts: keys.map((key) => counts.get(key)) };
}

// --- noise and site ----------------------------------------------------------------------------

// What the noise of a tree needs, prepared once: names, thresholds, groups of steps alike.
function noiseOf(model, trees) {
  if (trees.noise) return trees.noise;
  const sources = [];
  for (const [name, mechanism] of model.mechanisms) {
    if (mechanism.leak !== null) sources.push([name, null]);
    mechanism.causes.forEach((_, j) => sources.push([name, j]));
  }
  const thresholds = sources.map(([name, j]) => {
    const mechanism = model.mechanisms.get(name);
    const effect = j === null ? mechanism.leak : mechanism.causes[j].effect;
    let sofar = 0;
    return spreadOver(mechanism.states, effect).slice(0, -1).map((p) => (sofar += p));
  });
  const alike = new Map();
  for (const step of trees.steps) {
    if (!step.sources.length) continue;
    const key = String(step.chances.length).padStart(6, "0") + String(step.sources.length);
    if (!alike.has(key)) alike.set(key, []);
    alike.get(key).push(step);
  }
  const groups = sorted(alike.keys()).map((key) => alike.get(key));
  return (trees.noise = { names: sources.map(([n, j]) => noiseName(n, j)), thresholds, groups });
}

// The state that every source of noise would bring about in each row: a Map.
function completedNoise(model, trees, rows, chance) {
  const { names, thresholds, groups } = noiseOf(model, trees);
  const noise = new Map();
  names.forEach((name, i) => {
    const column = new Int8Array(rows.count);
    for (let r = 0; r < rows.count; r++) {
      const u = chance.random();
      for (const threshold of thresholds[i]) if (u >= threshold) column[r]++;
    }
    noise.set(name, column);
  });
  for (const steps of groups) {
    for (const step of steps) {
      const combinationsHere = step.chances.length;
      const parents = step.parents.map((name) => rows.paths.get(name));
      const widths = step.parents.map((name) => trees.allPaths.get(name).length);
      const end = rows.paths.get(step.variable);
      const start = step.previous === null ? null : rows.paths.get(step.previous);
      const into = step.sources.map((j) => noise.get(noiseName(step.mechanism, j)));
      const ends = new Float64Array(combinationsHere);
      for (let r = 0; r < rows.count; r++) {
        let row = start ? start[r] : 0;
        for (let k = 0; k < parents.length; k++) row = row * widths[k] + parents[k][r];
        let sofar = 0;
        for (let k = 0; k < combinationsHere; k++) {
          if (step.which[row * combinationsHere + k] === end[r]) sofar += step.chances[k];
          ends[k] = sofar;
        }
        const aim = chance.random() * sofar;
        let picked = 0;
        for (let k = 0; k < combinationsHere - 1; k++) if (aim >= ends[k]) picked++;
        for (let i = 0; i < into.length; i++) into[i][r] = step.noise[picked][i];
      }
    }
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
    const column = new Int8Array(rows.count);
    for (let r = 0; r < rows.count; r++) {
      const u = chance.random();
      for (const end of ends) if (end <= u) column[r]++;
    }
    site.set(name, column);
  }
  const present = (epoch) =>
    new Map(
      [...model.faults.keys()].map((fault) => {
        const at = trees.paths.get(fault).at(newestCopy(trees.newest, fault, epoch));
        return [fault, Uint8Array.from(rows.paths.get(fault), (path) => at[path])];
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
  for (const column of first.values()) column.forEach((p, r) => (none[r] &= 1 - p));
  const columns = [...faults.values(), none];
  const out = weights.slice();
  for (let turn = 0; turn < RAKES; turn++) {
    columns.forEach((column, k) => {
      let now = 0;
      for (let r = 0; r < out.length; r++) if (column[r]) now += out[r];
      const wanted = exact[k];
      if (!(now > 0 && now < 1 && wanted > 0 && wanted < 1)) return;
      const [up, down] = [wanted / now, (1 - wanted) / (1 - now)];
      for (let r = 0; r < out.length; r++) out[r] *= column[r] ? up : down;
    });
  }
  const total = sum(out);
  return out.map((w) => w / total);
}
