// States over time: the ways a fault or a mechanism can go through the epochs of a visit.
// See `network.paths`, of which this is the same.

// The states of one variable: `states` holds for each path its place in `names`, epoch by epoch.
class Paths {
  constructor(names, epochs, states) {
    Object.assign(this, { names, epochs, states, length: states.length });
  }

  static single(names, epoch = 0) {
    return new Paths(names, [epoch], names.map((_, i) => [i]));
  }

  // For each path the state in the copy that came into being in `epoch`.
  at(epoch) {
    const column = this.epochs.indexOf(epoch);
    return this.states.map((path) => path[column]);
  }

  // For each path whether that copy is in one of the wanted states.
  among(epoch, wanted) {
    const places = new Set(namedStates(wanted).map((state) => this.names.indexOf(state)));
    return this.at(epoch).map((place) => places.has(place));
  }
}

const chanceToClear = (repair, fault) => repair.clears.get(fault) ?? 0;

// The paths of a fault through the repairs that touch it, and P(path | first state).
function faultPaths(model, fault, done, epochs) {
  const repairs = epochs.filter((e) => e).map((e) => [done[e - 1], model.repairs.get(done[e - 1])]);
  const shared = new Map();
  for (const [id, repair] of repairs) {
    if (repair.same_luck) shared.set(id, chanceToClear(repair, fault));
  }
  const chances = new Map();
  const counts = [2, ...[...shared].map(() => 2)];
  for (const at of combinations(counts)) {
    const luck = new Map([...shared.keys()].map((id, k) => [id, at[k + 1]]));
    const odds = product([...luck].map(([id, won]) => (won ? shared.get(id) : 1 - shared.get(id))));
    let ways = new Map([[String(at[0]), odds]]);
    for (const [id, repair] of repairs) {
      const clears = luck.has(id) ? luck.get(id) : chanceToClear(repair, fault);
      const harm = repair.harms.get(fault) ?? 0;
      const longer = new Map();
      for (const [way, chance] of ways) {
        const stays = way.endsWith("1") ? 1 - clears * (1 - harm) : harm;
        longer.set(way + "0", chance * (1 - stays));
        longer.set(way + "1", chance * stays);
      }
      ways = longer;
    }
    for (const [way, chance] of ways) {
      if (chance > 0) chances.set(way, (chances.get(way) ?? 0) + chance);
    }
  }
  // The path on which the fault never is comes first, even where harm is certain.
  const never = "0".repeat(epochs.length);
  if (!chances.has(never)) chances.set(never, 0);
  const ordered = sorted(chances.keys());
  const states = ordered.map((way) => [...way].map(Number));
  return { paths: new Paths(FAULT_STATES, epochs, states), ways: ordered.map((w) => chances.get(w)) };
}

// One step of the chain of a mechanism: the worst of what went before and of one link's causes.
// `parents`: [name, paths, the copy that each epoch sees]. Returns the step, with its paths.
function takeStep(name, mechanism, causes, withLeak, epochs, before, parents, variable) {
  const sources = withLeak ? [null, ...causes] : [...causes];
  const spreads = sources.map((j) =>
    spreadOver(mechanism.states, j === null ? mechanism.leak : mechanism.causes[j].effect),
  );
  const noise = [];
  const chances = [];
  for (const at of combinations(spreads.map((s) => s.length))) {
    const odds = at.map((place, i) => spreads[i][place]);
    if (odds.every((p) => p > 0)) {
      noise.push([...at]);
      chances.push(product(odds));
    }
  }
  const starts = before === null ? [epochs.map(() => 0)] : before.paths.states;
  const holds = sources.map((j) => (j === null ? null : tests(mechanism.causes[j].when, parents, epochs)));
  const reachedStates = [];
  for (const start of starts) {
    for (const at of combinations(parents.map(([, paths]) => paths.length))) {
      const acts = holds.map((test) => test && test(at));
      for (const brought of noise) {
        reachedStates.push(
          start.map((state, e) => {
            for (let i = 0; i < sources.length; i++) {
              if (acts[i] === null || acts[i][e]) state = Math.max(state, brought[i]);
            }
            return state;
          }),
        );
      }
    }
  }
  const { which, paths } = reachedPaths(mechanism.states, epochs, reachedStates);
  const previous = before === null ? null : before.name;
  const names = parents.map(([parent]) => parent);
  return { mechanism: name, variable, previous, parents: names, sources, noise, chances, which, paths };
}

// Configuration of the parents -> for each epoch whether the condition holds.
function tests(when, parents, epochs) {
  const columns = parents.map(([name, paths, seen]) => {
    const byEpoch = seen.map((epoch) => paths.among(epoch, when.get(name)));
    return paths.states.map((_, path) => byEpoch.map((column) => column[path]));
  });
  return (at) => {
    return epochs.map((_, e) => columns.every((column, k) => column[at[k]][e]));
  };
}

// P(variable | previous, parents), flat.
function stepTable(step) {
  const after = step.paths.length;
  const each = step.chances.length;
  const values = new Float64Array((step.which.length / each) * after);
  step.which.forEach((path, k) => {
    values[Math.floor(k / each) * after + path] += step.chances[k % each];
  });
  return values;
}

// What a deterministic function makes of its parents' paths. `parents`: [paths, copies seen];
// `place`: flat over the parents' states. Flat over the parents' paths: which path, and the paths.
function decidedPaths(states, epochs, parents, place, counts) {
  const columns = epochs.map((_, k) => parents.map(([paths, seen]) => paths.at(seen[k])));
  const reachedStates = [];
  for (const at of combinations(parents.map(([paths]) => paths.length))) {
    reachedStates.push(
      columns.map((column) => {
        let flat = 0;
        column.forEach((atEpoch, axis) => {
          flat = flat * counts[axis] + atEpoch[at[axis]];
        });
        return place[flat];
      }),
    );
  }
  return reachedPaths(states, epochs, reachedStates);
}

// Which path stands where, and the paths that occur at all, in order of their states. With one
// epoch every state stays, reached or not: that is the variable as the model has it.
function reachedPaths(names, epochs, states) {
  if (epochs.length === 1) {
    return { which: states.map((path) => path[0]), paths: Paths.single(names, epochs[0]) };
  }
  const code = (path) => path.reduce((total, state) => total * names.length + state, 0);
  const codes = states.map(code);
  const first = new Map();
  codes.forEach((one, k) => {
    if (!first.has(one)) first.set(one, states[k]);
  });
  const ordered = [...first.keys()].sort((a, b) => a - b);
  const number = new Map(ordered.map((one, k) => [one, k]));
  const paths = new Paths(names, epochs, ordered.map((one) => first.get(one)));
  return { which: codes.map((one) => number.get(one)), paths };
}
