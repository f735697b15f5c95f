// A network compiled into a junction tree, and exact beliefs from it.
// Source of the method: Lauritzen & Spiegelhalter 1988; Jensen, Lauritzen & Olesen 1990.
//
// A network is {variables: [{name, count}], tables: [{variable, parents, values}]}; `values` lie
// flat, the variable's own states fastest. A clique's table lies flat too: the states of its
// separator (its "slots") one after the other, in each the states that it sums out.

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
    this.multiplyIn(network, new Set([...leaves, ...openRoots]));
  }

  get entries() {
    return sum(this.cliques.map((one) => one.size));
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
      cliques.push(Object.assign(one, { slots, rest: size / slots, size, potentials: null }));
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
    for (const one of this.cliques) one.potentials = new Float64Array(one.size).fill(1);
    const tables = network.tables.filter((table) => !left.has(table.variable));
    for (const table of tables.sort((a, b) => byName(a.variable, b.variable))) {
      const { clique, places } = this.site([...table.parents, table.variable]);
      const potentials = this.cliques[clique].potentials;
      for (let e = 0; e < potentials.length; e++) potentials[e] *= table.values[places[e]];
    }
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
  const places = new Int32Array(clique.size);
  let stride = 1;
  for (let k = names.length - 1; k >= 0; k--) {
    const axis = clique.names.indexOf(names[k]);
    const inner = product(clique.shape.slice(axis + 1));
    const width = clique.shape[axis];
    for (let e = 0; e < places.length; e++) {
      places[e] += (Math.floor(e / inner) % width) * stride;
    }
    stride *= counts[k];
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

// Beliefs given likelihoods (Map: variable or leaf -> numbers), the priors of open roots among
// them: {tree, tables, logEvidence}. Throws EvidenceConflict when they are impossible.
function calibrate(tree, likelihoods) {
  const tables = tree.cliques.map((one) => one.potentials.slice());
  let free = 1; // leaves without parents
  for (const [name, likelihood] of likelihoods) {
    let names = [name];
    let factors = likelihood;
    if (tree.leaves.has(name)) {
      const table = tree.tableOf.get(name);
      names = table.parents;
      factors = seenThrough(table, likelihood);
      if (!names.length) {
        free *= factors[0];
        continue;
      }
    }
    const { clique, places } = tree.site(names);
    const into = tables[clique];
    for (let e = 0; e < into.length; e++) into[e] *= factors[places[e]];
  }
  let logEvidence = Math.log(free) + collect(tree, tables);
  if (!(logEvidence > -Infinity)) throw new EvidenceConflict("impossible together");
  distribute(tree, tables);
  return { tree, tables, logEvidence };
}

// Towards the root: each table becomes P(own variables | separator); returns the log evidence.
function collect(tree, tables) {
  let log = 0;
  for (let i = tree.cliques.length - 1; i >= 0; i--) {
    const one = tree.cliques[i];
    const table = tables[i];
    const message = new Float64Array(one.slots);
    for (let s = 0, e = 0; s < one.slots; s++) {
      let total = 0;
      for (let r = 0; r < one.rest; r++) total += table[e++];
      message[s] = total;
      if (total > 0) {
        e -= one.rest;
        for (let r = 0; r < one.rest; r++) table[e++] /= total;
      }
    }
    const scale = message.reduce((a, b) => Math.max(a, b), 0);
    if (!(scale > 0)) return -Infinity;
    log += Math.log(scale);
    if (one.parent < 0) continue;
    for (let s = 0; s < message.length; s++) message[s] /= scale;
    const above = tables[one.parent];
    for (let e = 0; e < above.length; e++) above[e] *= message[one.fromParent[e]];
  }
  return log;
}

// Away from the root: each table becomes P(its variables | evidence).
function distribute(tree, tables) {
  for (let i = 1; i < tree.cliques.length; i++) {
    const one = tree.cliques[i];
    const separator = new Float64Array(one.slots);
    const above = tables[one.parent];
    for (let e = 0; e < above.length; e++) separator[one.fromParent[e]] += above[e];
    const table = tables[i];
    for (let s = 0, e = 0; s < one.slots; s++) {
      for (let r = 0; r < one.rest; r++) table[e++] *= separator[s];
    }
  }
}

// P(names | evidence), flat, for names that lie in one clique together.
function marginal(beliefs, names) {
  if (!names.length) return new Float64Array([1]);
  const { tree, tables } = beliefs;
  const { clique, places } = tree.site(names);
  const out = new Float64Array(product(names.map((name) => tree.count.get(name))));
  const table = tables[clique];
  for (let e = 0; e < table.length; e++) out[places[e]] += table[e];
  return out;
}

// P(outcome | evidence) of a leaf that was not seen.
function predicted(beliefs, leaf) {
  const table = beliefs.tree.tableOf.get(leaf);
  const parents = marginal(beliefs, table.parents);
  const width = beliefs.tree.count.get(leaf);
  const out = new Float64Array(width);
  for (let e = 0; e < table.values.length; e++) {
    out[e % width] += table.values[e] * parents[Math.floor(e / width)];
  }
  return out;
}
