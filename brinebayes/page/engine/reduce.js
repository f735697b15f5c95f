// A network in which some variables are known for good: smaller, and exactly the same beliefs; see
// `network.reduce`.

// A tree with what became of the variables of the full network: `left` (Map: variable -> its states
// that are possible) is null where all of them are. One with a single state is in no table.
class Side {
  // `count`: Map: variable -> how many states it has in the full network.
  constructor(tree, left, count) {
    Object.assign(this, { tree, left, count });
  }

  // Likelihoods ([variable or leaf, numbers]) over the full network as a factor and over this one.
  translated(likelihoods) {
    if (this.left === null) return { factor: 1, likelihoods };
    let factor = 1;
    const kept = [];
    for (const [name, values] of likelihoods) {
      const states = this.left.get(name);
      if (states === undefined) kept.push([name, values]);
      else if (states.length > 1) kept.push([name, states.map((state) => values[state])]);
      else factor *= values[states[0]];
    }
    return { factor, likelihoods: kept };
  }

  // P(state | evidence) of a variable that is no leaf, over all of its states.
  spread(beliefs, name) {
    const states = this.left && this.left.get(name);
    if (!states) return marginal(beliefs, [name]);
    const out = new Float64Array(this.count.get(name));
    const found = states.length > 1 ? marginal(beliefs, [name]) : [1];
    states.forEach((state, k) => (out[state] = found[k]));
    return out;
  }
}

// {variables, tables, left}: the network in which each variable of `known` (a Map) has only those
// states. Tables come after those of their parents.
function reducedNetwork(network, known, leaves) {
  const count = new Map(network.variables.map((v) => [v.name, v.count]));
  const all = (name) => Array.from({ length: count.get(name) }, (_, state) => state);
  const left = new Map();
  const tables = [];
  for (const { variable, parents, values } of network.tables) {
    const width = count.get(variable);
    const starts = [];
    for (const at of combinations(parents.map((name) => left.get(name).length))) {
      let row = 0;
      parents.forEach((name, k) => (row = row * count.get(name) + left.get(name)[at[k]]));
      starts.push(row * width);
    }
    let states = all(variable);
    if (known.has(variable)) states = known.get(variable);
    else if (!leaves.has(variable)) states = states.filter((k) => starts.some((from) => values[from + k] > 0));
    if (!leaves.has(variable)) left.set(variable, states);
    if (states.length === 1 && !leaves.has(variable)) continue;
    const open = parents.filter((name) => left.get(name).length > 1);
    const kept = starts.flatMap((from) => states.map((k) => values[from + k]));
    tables.push({ variable, parents: open, values: kept });
  }
  const variables = tables.map(({ variable: name }) => ({ name, count: (left.get(name) ?? all(name)).length }));
  return { variables, tables, left };
}
