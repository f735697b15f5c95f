// From a model to the network of one visit and its compiled tree; the same as `network.build` and
// `network.planting` make of it, without what only export needs.

// Random ties tried for an elimination order after a repair, when somebody is waiting.
const AGAIN = 3;
// Most table entries that a tree may have.
const MOST_ENTRIES = 500000;

class TooLarge extends Error {
  constructor(entries) {
    super(`${entries} table entries`);
    this.entries = entries;
  }
}

// Refuses a table over these that no tree could hold.
function makeRoom(world, parents, states = 1) {
  const entries = parents.reduce((all, name) => all * world.paths.get(name).length, states);
  if (entries > MOST_ENTRIES) throw new TooLarge(entries);
}

// The network in which `keep` ([id, epoch of the copy]) is seen or asked.
function buildWorld(model, done, keep, orders) {
  const newest = versionsOf(model, done);
  const last = done.length;
  const asked = [...keep];
  for (const fault of model.faults.keys()) asked.push([fault, newest.get(fault)[last]]);
  const wanted = upstream(model, newest, asked);
  const world = { newest, variables: [], tables: [], paths: new Map(), ways: new Map(), steps: [] };
  const epochsOf = (name) =>
    unique(newest.get(name)).filter((epoch) => wanted.has(`${name} ${epoch}`));
  const add = (name, count, parents, values) => {
    world.variables.push({ name, count });
    world.tables.push({ variable: name, parents, values });
  };
  for (const fault of model.faults.keys()) {
    const { paths, ways } = faultPaths(model, fault, done, epochsOf(fault));
    world.paths.set(fault, paths);
    world.ways.set(fault, ways);
    add(fault, paths.length, [], ways);
  }
  for (const [name, condition] of model.site) {
    if (!wanted.has(`${name} 0`)) continue;
    const paths = Paths.single([...condition.values.keys()]);
    world.paths.set(name, paths);
    add(name, paths.length, [], paths.names.map(() => 1));
  }
  world.openRoots = [...world.paths.keys()];
  for (const name of model.order) {
    if (epochsOf(name).length) addMechanism(model, world, name, epochsOf(name), orders, add);
  }
  const { observations, states } = outlineOf(model);
  for (const name of [...observations.keys(), ...model.complaints.keys()]) {
    const epochs = epochsOf(name);
    if (!epochs.length) continue;
    const { parents, outcomes, rows } = observationTable(model, name);
    makeRoom(world, parents);
    for (const epoch of epochs) {
      const at = parents.map((p) => world.paths.get(p).at(newest.get(p)[epoch]));
      const values = [];
      for (const path of combinations(at.map((column) => column.length))) {
        let row = 0;
        parents.forEach((parent, axis) => {
          row = row * states.get(parent).length + at[axis][path[axis]];
        });
        values.push(...rows[row]);
      }
      add(nodeName(name, epoch), outcomes.length, parents, values);
    }
  }
  return world;
}

// The nodes asked for and everything they depend on, as "id epoch".
function upstream(model, newest, asked) {
  const { parents } = outlineOf(model);
  const wanted = new Set();
  const waiting = [...asked];
  while (waiting.length) {
    const [name, epoch] = waiting.pop();
    if (wanted.has(`${name} ${epoch}`)) continue;
    wanted.add(`${name} ${epoch}`);
    if (parents.has(name)) {
      for (const p of parents.get(name)) waiting.push([p, newest.get(p)[epoch]]);
    } else if (epoch) waiting.push([name, newest.get(name)[epoch - 1]]);
  }
  return wanted;
}

function addMechanism(model, world, name, epochs, orders, add) {
  const mechanism = model.mechanisms.get(name);
  const { states, parents } = outlineOf(model);
  const seenBy = (p) => [world.paths.get(p), epochs.map((epoch) => world.newest.get(p)[epoch])];
  if (mechanism.cases.length) {
    const names = parents.get(name);
    makeRoom(world, names);
    const then = mechanism.cases.map((one) => mechanism.states.indexOf(one.then));
    const which = firstHolding(model, names, mechanism.cases.map((one) => one.when));
    const place = which.map((k) => then[k]);
    const counts = names.map((p) => states.get(p).length);
    const found = decidedPaths(mechanism.states, epochs, names.map(seenBy), place, counts);
    const width = found.paths.length;
    makeRoom(world, names, width);
    const values = new Float64Array(found.which.length * width);
    found.which.forEach((path, k) => {
      values[k * width + path] = 1;
    });
    world.paths.set(name, found.paths);
    add(name, width, names, values);
    return;
  }
  const groups = orders.get(name) ?? [[]];
  let before = null;
  groups.forEach((causes, k) => {
    const variable = k === groups.length - 1 ? name : `${name}__c${k}`;
    const named = causes.length ? [...mechanism.causes[causes[0]].when.keys()] : [];
    const inputs = before ? [before.name, ...named] : named;
    makeRoom(world, inputs);
    const seen = named.map((p) => [p, ...seenBy(p)]);
    const leak = k === 0 && mechanism.leak !== null;
    const step = takeStep(name, mechanism, causes, leak, epochs, before, seen, variable);
    world.steps.push(step);
    world.paths.set(variable, step.paths);
    makeRoom(world, inputs, step.paths.length);
    add(variable, step.paths.length, inputs, stepTable(step));
    before = { name: variable, paths: step.paths };
  });
}

// --- trees -------------------------------------------------------------------------------------

// The trees made for a model, the oldest dropped first.
const MOST_KEPT = 12;

// The tree for a visit with these repairs done and these [id, epoch] seen.
function treesFor(model, done, seen) {
  const keep = keptIn(model, done, seen);
  const key = JSON.stringify([done, keep]);
  model.trees ??= new Map();
  if (!model.trees.has(key)) {
    if (model.trees.size >= MOST_KEPT) model.trees.delete(model.trees.keys().next().value);
    model.trees.set(key, plant(model, done, keep));
  }
  const found = model.trees.get(key);
  if (found.whole === null) throw new TooLarge(found.entries);
  return found;
}

// [id, epoch of the copy] of all that must be in the network: what was seen, what can be seen now,
// and what a working unit needs now and needed at every proof.
function keptIn(model, done, seen) {
  const newest = versionsOf(model, done);
  const last = done.length;
  const works = [...model.about.works.keys()];
  const wanted = [...outlineOf(model).observations.keys(), ...works].map((name) => [name, last]);
  if (!done.length) for (const name of model.complaints.keys()) wanted.push([name, 0]);
  for (const [name, epoch] of seen) {
    const proof = name === PROOF || name === WORKS;
    for (const one of proof ? works : [name]) wanted.push([one, epoch]);
  }
  const kept = new Map();
  for (const [name, epoch] of wanted) {
    const copy = newestCopy(newest, name, epoch);
    kept.set(`${name} ${copy}`, [name, copy]);
  }
  return [...kept.values()].sort((a, b) => byName(a[0], b[0]) || a[1] - b[1]);
}

function plant(model, done, keep) {
  const { observations } = outlineOf(model);
  const observed = (name) => observations.has(name) || model.complaints.has(name);
  const leaves = keep.filter(([name]) => observed(name)).map(([n, epoch]) => nodeName(n, epoch));
  const orders = [model.chains];
  if (done.length) orders.push(settledFirst(model, done));
  let best = null;
  let least = Infinity;
  for (const order of orders) {
    let world;
    try {
      world = buildWorld(model, done, keep, order);
    } catch (error) {
      if (!(error instanceof TooLarge)) throw error;
      least = Math.min(least, error.entries);
      continue;
    }
    const found = elimination(model, world, leaves, done.length > 0);
    if (best === null || found[0] < best.entries) best = { world, entries: found[0], order: found[1] };
  }
  if (best === null) return { entries: least, whole: null, healthy: null };
  const { world, order, entries } = best;
  const { newest, paths, ways, steps, openRoots } = world;
  const base = { newest, paths, ways, steps, openRoots, entries, whole: null, healthy: null };
  if (entries > MOST_ENTRIES) return base;
  const tree = new JunctionTree(world, leaves, openRoots, order);
  base.whole = new Side(tree, null, tree.count);
  const sound = new Map();
  for (const fault of model.faults.keys()) {
    const first = paths.get(fault).at(0);
    sound.set(fault, first.flatMap((state, path) => (state ? [] : [path])));
  }
  const small = reducedNetwork(world, sound, new Set(leaves));
  const kept = new Set(small.variables.map(({ name }) => name));
  const shorter = order.filter((name) => kept.has(name));
  base.healthy = new Side(new JunctionTree(small, leaves, openRoots, shorter), small.left, tree.count);
  return base;
}

// Causes that none of the repairs touches come first.
function settledFirst(model, done) {
  const newest = versionsOf(model, done);
  const touched = (name, group) => {
    const named = [...model.mechanisms.get(name).causes[group[0]].when.keys()];
    return named.some((p) => newest.get(p)[done.length] > 0) ? 1 : 0;
  };
  const ordered = (name, groups) =>
    [...groups].sort((a, b) => touched(name, a) - touched(name, b));
  return new Map([...model.chains].map(([name, groups]) => [name, ordered(name, groups)]));
}

// [table entries, a good elimination order]; before any repair the order comes with the model.
function elimination(model, world, leaves, waiting) {
  const left = new Set(leaves);
  const names = sorted(world.variables.map((v) => v.name).filter((name) => !left.has(name)));
  const number = new Map(names.map((name, i) => [name, i]));
  const count = new Map(world.variables.map((v) => [v.name, v.count]));
  const near = moralGraph(familiesOf(world, number), names.length);
  const states = names.map((name) => count.get(name));
  const known = sorted(model.elimination).join() === names.join() && !waiting;
  const searched = () =>
    waiting ? searchOrder(near, states, AGAIN, WHILE_WAITING) : searchOrder(near, states, TRIES);
  const found = known ? model.elimination.map((n) => number.get(n)) : searched();
  return [totalSize(near, states, found), found.map((i) => names[i])];
}
