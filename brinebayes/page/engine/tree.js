// A network compiled into a junction tree, and exact beliefs from it.
// Source of the method: Lauritzen & Spiegelhalter 1988; Jensen, Lauritzen & Olesen 1990.
//
// A network is {variables: [{name, count}], tables: [{variable, parents, values}]}; `values` lie
// flat, the variable's own states fastest. The tables of all cliques lie flat one after another
// (`from`), and so do their messages (`slotFrom`): in a clique the states of its separator (its
// "slots") one after the other, in each the states that it sums out.

class JunctionTree {
  constructor(network, leaves, openRoots, order) {
    this.count = new Map(network.variables.map((v) => [v.name, v.count]));
    this.tableOf = new Map(network.tables.map((table) => [table.variable, table]));
    this.leaves = new Set(leaves);
    this.names = network.variables.map((v) => v.name).filter((name) => !this.leaves.has(name));
    this.numbered = sorted(this.names);
    const number = new Map(this.numbered.map((name, i) => [name, i]));
    const states = this.numbered.map((name) => this.count.get(name));
    const near = moralGraph(familiesOf(network, number), this.numbered.length);
    const found = order ? order.map((name) => number.get(name)) : searchOrder(near, states, TRIES);
    const rooted = rootedTree(near, states, found);
    this.cliques = this.laidOut(rooted);
    this.bySize = this.cliques.map((_, i) => i);
    this.bySize.sort((a, b) => this.cliques[a].size - this.cliques[b].size || a - b);
    this.homes = new Map();
    this.entries = 0;
    this.slots = 0;
    for (const one of this.cliques) {
      one.from = this.entries;
      one.slotFrom = this.slots;
      this.entries += one.size;
      this.slots += one.slots;
    }
    this.widest = Math.max(...this.cliques.map((one) => one.slots));
    this.multiplyIn(network, new Set([...leaves, ...openRoots]));
  }

  laidOut(rooted) {
    const cliques = [];
    rooted.cliques.forEach((mask, i) => {
      const mine = bitsOf(mask).filter((v) => v < this.numbered.length);
      const parent = rooted.parent[i];
      const names = mine.map((v) => this.numbered[v]);
      let shared = [];
      if (parent >= 0) {
        const above = cliques[parent];
        // A separator begins with what it shares with the parent's own separator.
        shared = above.names.slice(0, above.shared).filter((name) => names.includes(name));
        shared.push(...sorted(above.names.slice(above.shared)).filter((n) => names.includes(n)));
      }
      const axes = [...shared, ...names.filter((name) => !shared.includes(name))];
      const shape = axes.map((name) => this.count.get(name));
      const slots = product(shape.slice(0, shared.length));
      const size = product(shape);
      const one = { names: axes, shape, parent, depth: rooted.depth[i], shared: shared.length };
      cliques.push(Object.assign(one, { slots, rest: size / slots, size }));
      one.fromParent = parent < 0 ? null : agreeing(cliques[parent], shared, shape);
    });
    return cliques;
  }

  // The smallest clique that holds all of the names.
  home(names) {
    for (const i of this.bySize) {
      if (names.every((name) => this.cliques[i].names.includes(name))) return i;
    }
    throw new UsageError(`no clique holds ${names.join(", ")} together`);
  }

  // Where a table over some names is multiplied in: the clique, and for each of its entries the
  // place in that table.
  site(names) {
    const key = names.join(" ");
    if (!this.homes.has(key)) {
      const clique = this.home(names);
      const counts = names.map((name) => this.count.get(name));
      this.homes.set(key, { clique, places: agreeing(this.cliques[clique], names, counts) });
    }
    return this.homes.get(key);
  }

  multiplyIn(network, left) {
    this.potentials = new Float64Array(this.entries).fill(1);
    const tables = network.tables.filter((table) => !left.has(table.variable));
    for (const table of tables.sort((a, b) => byName(a.variable, b.variable))) {
      this.multiply(this.potentials, [...table.parents, table.variable], table.values);
    }
  }

  // Multiply a table over some names into the tables of the cliques.
  multiply(tables, names, values) {
    const { clique, places } = this.site(names);
    const { from } = this.cliques[clique];
    for (let e = 0; e < places.length; e++) tables[from + e] *= values[places[e]];
  }
}

// How often the search for an elimination order is repeated with random ties.
const TRIES = 10;

// The variables of each table that lie in the tree, as numbers.
function familiesOf(network, number) {
  return network.tables.map((table) =>
    [...table.parents, table.variable].filter((n) => number.has(n)).map((n) => number.get(n)),
  );
}

// For each entry of a clique, the place in a table over `names` with so many states each.
function agreeing(clique, names, counts) {
  const strides = new Int32Array(clique.names.length);
  let stride = 1;
  for (let k = names.length - 1; k >= 0; k--) {
    strides[clique.names.indexOf(names[k])] += stride;
    stride *= counts[k];
  }
  const places = new Int32Array(clique.size);
  // Built up from the fastest axis: what is there is repeated for every state of the next one.
  let done = 1;
  for (let axis = strides.length - 1; axis >= 0; axis--) {
    const width = clique.shape[axis];
    for (let state = 1; state < width; state++) {
      const add = state * strides[axis];
      for (let e = 0; e < done; e++) places[state * done + e] = places[e] + add;
    }
    done *= width;
  }
  return places;
}

// P(evidence seen | parents), one number for each combination of the parents of a leaf.
function seenThrough(table, likelihood) {
  const width = likelihood.length;
  const out = new Float64Array(table.values.length / width);
  for (let r = 0; r < out.length; r++) {
    for (let k = 0; k < width; k++) out[r] += table.values[r * width + k] * likelihood[k];
  }
  return out;
}

// Multiply likelihoods ([variable or leaf, numbers]) into the tables of the cliques; returns what
// leaves without parents contribute.
function enterAll(tree, tables, likelihoods) {
  let free = 1;
  for (const [name, likelihood] of likelihoods) {
    if (!tree.leaves.has(name)) {
      tree.multiply(tables, [name], likelihood);
      continue;
    }
    const table = tree.tableOf.get(name);
    const through = seenThrough(table, likelihood);
    if (table.parents.length) tree.multiply(tables, table.parents, through);
    else free *= through[0];
  }
  return free;
}

// Beliefs given likelihoods ([variable or leaf, numbers]), those of open roots among them, on top
// of `start`, in which some are entered already: {tree, tables, logEvidence}. Throws
// EvidenceConflict when they are impossible.
function calibrate(tree, likelihoods, start = tree.potentials) {
  const tables = start.slice();
  const messages = new Float64Array(tree.slots);
  const free = enterAll(tree, tables, likelihoods);
  const logEvidence = Math.log(free) + collect(tree, tables, messages);
  if (!(logEvidence > -Infinity)) throw new EvidenceConflict("impossible together");
  distribute(tree, tables, messages);
  return { tree, tables, logEvidence };
}

// Only the log of the probability of the evidence, -Infinity when it is impossible.
function evidenceLog(tree, likelihoods, start) {
  const tables = start.slice();
  const free = enterAll(tree, tables, likelihoods);
  return Math.log(free) + collect(tree, tables, new Float64Array(tree.slots));
}

// Towards the root: each message becomes the sums of its table over the separator, and the table
// above is multiplied by them; returns the log evidence.
function collect(tree, tables, messages) {
  let log = 0;
  for (let i = tree.cliques.length - 1; i >= 0; i--) {
    const { from, slotFrom, slots, rest, parent, fromParent } = tree.cliques[i];
    let scale = 0;
    for (let s = 0, e = from; s < slots; s++) {
      let total = 0;
      for (const end = e + rest; e < end; e++) total += tables[e];
      messages[slotFrom + s] = total;
      if (total > scale) scale = total;
    }
    if (!(scale > 0)) return -Infinity;
    log += Math.log(scale);
    if (parent < 0) continue;
    const up = 1 / scale;
    const above = tree.cliques[parent].from;
    for (let e = 0; e < fromParent.length; e++) {
      tables[above + e] *= messages[slotFrom + fromParent[e]] * up;
    }
  }
  return log;
}

// Away from the root: each table becomes P(its variables | evidence).
function distribute(tree, tables, messages) {
  const separator = new Float64Array(tree.widest);
  for (const { from, slotFrom, slots, rest, parent, fromParent } of tree.cliques) {
    if (parent < 0) separator[0] = 1;
    else {
      separator.fill(0, 0, slots);
      const above = tree.cliques[parent].from;
      for (let e = 0; e < fromParent.length; e++) separator[fromParent[e]] += tables[above + e];
    }
    for (let s = 0, e = from; s < slots; s++) {
      const sent = messages[slotFrom + s];
      const scale = sent > 0 ? separator[s] / sent : 0;
      for (const end = e + rest; e < end; e++) tables[e] *= scale;
    }
  }
}

// P(names | evidence), flat, for names that lie in one clique together.
function marginal({ tree, tables }, names) {
  if (!names.length) return new Float64Array([1]);
  const { clique, places } = tree.site(names);
  const { from } = tree.cliques[clique];
  const out = new Float64Array(product(names.map((name) => tree.count.get(name))));
  for (let e = 0; e < places.length; e++) out[places[e]] += tables[from + e];
  return out;
}

// P(outcome | evidence) of a leaf that was not seen.
function predicted(beliefs, leaf) {
  const { parents, values } = beliefs.tree.tableOf.get(leaf);
  return throughTable(values, marginal(beliefs, parents), beliefs.tree.count.get(leaf));
}

// The same of a leaf that was seen with a likelihood: P(that it would be seen so once more).
function predictedAgain(beliefs, leaf, likelihood) {
  const table = beliefs.tree.tableOf.get(leaf);
  const weights = marginal(beliefs, table.parents);
  const through = seenThrough(table, likelihood);
  for (let r = 0; r < weights.length; r++) if (weights[r] > 0) weights[r] /= through[r];
  return throughTable(table.values, weights, likelihood.length).map((p, k) => p * likelihood[k]);
}

function throughTable(values, weights, width) {
  const out = new Float64Array(width);
  for (let r = 0, e = 0; r < weights.length; r++) {
    for (let k = 0; k < width; k++) out[k] += values[e++] * weights[r];
  }
  return out;
}
