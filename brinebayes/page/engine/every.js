// Every joint state of a model that has few of them, each once, with its exact probability; the same
// rows in the same order as `network.every`.

// At most so many faults that may or may not be there.
const MOST_OPEN = 16;

// All joint states given a call, at a site of which `site` is known, as rows; null if too many.
function everyWorld(model, site) {
  const priors = [...priorsOf(model, site).values()];
  const { parents } = outlineOf(model);
  const named = new Set([...parents.values()].flat());
  const conditions = [...model.site.keys()].filter((name) => named.has(name));
  const chances = new Map(conditions.map((name) => [name, siteChances(model, site, name)]));
  for (const [name, { leak, causes, states }] of model.mechanisms) {
    if (leak !== null) chances.set(noiseName(name, null), spreadOver(states, leak));
    causes.forEach((cause, j) => chances.set(noiseName(name, j), spreadOver(states, cause.effect)));
  }
  const possible = [...chances.values()].map((of) => [...of.keys()].filter((state) => of[state] > 0));
  const open = priors.flatMap((q, j) => (q > 0 && q < 1 ? [j] : []));
  const others = product(possible.map((states) => states.length));
  if (open.length > MOST_OPEN || others * 2 ** open.length > model.search.most_states) return null;

  const grid = [...chances.keys()].map(() => new Uint8Array(others));
  const weight = new Float64Array(others).fill(1);
  const all = [...chances.values()];
  let g = 0;
  for (const at of combinations(possible.map((states) => states.length))) {
    at.forEach((place, k) => {
      grid[k][g] = possible[k][place];
      weight[g] *= all[k][grid[k][g]];
    });
    g++;
  }
  const patterns = [];
  for (const at of combinations(open.map(() => 2))) {
    const here = priors.map((q) => Number(q >= 1));
    open.forEach((j, k) => (here[j] = at[k]));
    patterns.push(here);
  }
  const count = patterns.length * others;
  const repeated = (column) => {
    const out = new Uint8Array(count);
    for (let p = 0; p < patterns.length; p++) out.set(column, p * others);
    return out;
  };
  const rows = { count, site: new Map(), noise: new Map(), faults: new Map() };
  [...chances.keys()].forEach((name, k) => {
    (model.site.has(name) ? rows.site : rows.noise).set(name, repeated(grid[k]));
  });
  [...model.faults.keys()].forEach((fault, j) => {
    const column = new Uint8Array(count);
    patterns.forEach((here, p) => here[j] && column.fill(1, p * others, (p + 1) * others));
    rows.faults.set(fault, column);
  });
  evaluate(model, rows);
  const mixed = mixedStates(patterns.length, rows, others);
  const places = placesOfSites(rows.site, others);
  const kept = [];
  const weights = [];
  patterns.forEach((here, p) => {
    let share = 1;
    here.forEach((there, j) => (share *= there ? priors[j] : 1 - priors[j]));
    if (!here.includes(1)) share *= model.odds.call_without_fault;
    for (const [first, of] of kindsOf(model, patterns, p, mixed, places, weight)) {
      if (!(share * of > 0)) continue;
      kept.push(p * others + first);
      weights.push(share * of);
    }
  });
  const total = sum(weights);
  return onlyRows({ ...rows, works: worksIn(model, rows) }, kept, weights.map((w) => w / total));
}

// Some of the rows, as the unit is and was found; nothing has been done yet.
function onlyRows({ site, noise, faults, mechanisms, works }, kept, weights) {
  const now = {
    count: kept.length,
    site: takenAll(site, kept),
    noise: takenAll(noise, kept),
    faults: takenAll(faults, kept),
    mechanisms: takenAll(mechanisms, kept),
  };
  return { ...now, works: taken(works, kept), weights: Float64Array.from(weights), first: now, effectiveDraws: Infinity };
}

// For the faults of a pattern: [first of its noise, chance], one for each way of the noise that
// differs in what the unit does, whatever repairs clear and harm.
function kindsOf(model, patterns, p, mixed, places, weight) {
  const others = weight.length;
  const names = [...model.faults.keys()];
  const repairs = [...model.repairs.values()];
  const goes = names.map((name) => repairs.some((one) => one.clears.has(name)));
  const comes = names.map((name) => repairs.some((one) => one.harms.has(name)));
  const now = patterns[p];
  const reached = patterns.flatMap((here, q) => {
    const fits = here.every((there, j) => (there ? now[j] || comes[j] : !now[j] || goes[j]));
    return fits ? [q * others] : [];
  });
  const found = new Map();
  for (let g = 0; g < others; g++) {
    let low = 0;
    let high = 0;
    for (const from of reached) {
      low += mixed.low[from + g];
      high += mixed.high[from + g];
    }
    const key = BigInt.asIntN(64, ((BigInt(high) << 32n) + BigInt(low)) * 31n + places[g]);
    const one = found.get(key);
    if (one) one[1] += weight[g];
    else found.set(key, [g, weight[g]]);
  }
  return [...found.keys()].sort((a, b) => (a < b ? -1 : a > b ? 1 : 0)).map((key) => found.get(key));
}

// The states of all mechanisms in a row as one word of 64 bits, times an odd number of its pattern.
function mixedStates(patterns, rows, others) {
  const low = new Uint32Array(rows.count);
  const high = new Uint32Array(rows.count);
  for (const column of rows.mechanisms.values()) {
    for (let r = 0; r < low.length; r++) {
      multiply(high[r], low[r], 0, 31);
      const more = PRODUCT[1] + column[r];
      high[r] = PRODUCT[0] + (more > 0xffffffff ? 1 : 0);
      low[r] = more;
    }
  }
  const chance = new Chance();
  for (let p = 0; p < patterns; p++) {
    const [factorHigh, factorLow] = chance.bits();
    for (let r = p * others; r < (p + 1) * others; r++) {
      multiply(high[r], low[r], factorHigh, factorLow | 1);
      high[r] = PRODUCT[0];
      low[r] = PRODUCT[1];
    }
  }
  return { low, high };
}

// The values of all site conditions in a row as one number.
function placesOfSites(site, others) {
  return Array.from({ length: others }, (_, g) => {
    let place = 0n;
    for (const column of site.values()) place = place * 31n + BigInt(column[g]);
    return place;
  });
}
