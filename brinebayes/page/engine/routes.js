// The cheapest safe route from every setup to every need, tabulated in Python; see `setups.routes`.
// A setup is an array of values in the order of the model's setup variables.

const HERE = 255;
const NO_ROUTE = 254;
const PER_UNIT = 1000000;

class Routes {
  // `table`: {goals, move_prices, worst, stands_for_all, real_rows}; `bytes`: the numbers of the
  // rows (four bytes each, the least first), then the next move of every row for each goal.
  constructor(model, table, bytes) {
    this.setups = model.setups;
    this.names = [...model.setups.variables.keys()];
    this.values = [...model.setups.variables.values()].map((v) => [...v.values.keys()]);
    this.moves = sorted(model.setups.moves.keys());
    this.table = table;
    const rows = bytes.length / (table.goals.length + 4);
    const numbers = new DataView(bytes.buffer, bytes.byteOffset, rows * 4);
    this.rows = rows;
    this.next = bytes.subarray(rows * 4);
    this.rowOf = new Map();
    this.numbers = new Int32Array(rows);
    for (let row = 0; row < rows; row++) {
      this.numbers[row] = numbers.getInt32(row * 4, true);
      this.rowOf.set(this.numbers[row], row);
    }
    this.goals = new Map(table.goals.map((goal, place) => [JSON.stringify(goal), place]));
    this.serviceState = [...model.setups.variables.values()].map((v) => v.service);
    this.toService = new Map(this.names.map((name, axis) => [name, this.serviceState[axis]]));
    this.found = new Map();
    this.reached = new Map();
    this.left = new Map();
    this.leaving = this.moves.map((id) => model.setups.moves.get(id).leaves);
  }

  numberOf(state) {
    let number = 0;
    state.forEach((value, axis) => {
      number = number * this.values[axis].length + this.values[axis].indexOf(value);
    });
    return number;
  }

  row(state) {
    const row = this.rowOf.get(this.numberOf(state));
    if (row === undefined) throw new UnsafeRoute("this setup cannot come about safely; look again");
    return row;
  }

  // The worst setup that what is known (a Map) leaves possible.
  start(knownValues) {
    const variables = [...this.setups.variables];
    const places = variables.map(([name, variable], axis) =>
      this.values[axis].indexOf(knownValues.get(name) ?? variable.worst),
    );
    const possible = this.values.map(() => new Set());
    let any = false;
    for (let row = 0; row < this.table.real_rows; row++) {
      const at = this.placesOf(this.numbers[row]);
      const fits = at.every((place, axis) => {
        if (!knownValues.has(this.names[axis])) return true;
        const free = this.table.stands_for_all[axis] && places[axis] === this.table.worst[axis];
        return free || place === places[axis];
      });
      if (!fits) continue;
      any = true;
      at.forEach((place, axis) => possible[axis].add(place));
    }
    if (!any) throw new UnsafeRoute("what was told of the unit cannot all be so; look again");
    const found = possible.map((set, axis) => {
      const worst = this.table.worst[axis];
      const assumed = set.size > 1 && (this.table.stands_for_all[axis] || set.has(worst));
      return this.values[axis][assumed ? worst : Math.max(...set)];
    });
    this.row(found);
    return found;
  }

  placesOf(number) {
    const at = [];
    for (let axis = this.values.length - 1; axis >= 0; axis--) {
      at[axis] = number % this.values[axis].length;
      number = Math.floor(number / this.values[axis].length);
    }
    return at;
  }

  goal(needs) {
    const spelled = sorted(needs.keys()).map((n) => [n, sorted(namedStates(needs.get(n)))]);
    return JSON.stringify(spelled);
  }

  // {moves, minutes, waiting, money, cautions, end}; throws UnsafeRoute if there is none.
  way(start, needs) {
    return this.wayTo(start, this.goal(needs));
  }

  wayTo(start, goal) {
    const key = `${start.join()} ${goal}`;
    if (!this.found.has(key)) this.found.set(key, this.walk(start, goal));
    const found = this.found.get(key);
    if (found === null) throw new UnsafeRoute("no safe way leads there from how the unit stands");
    return found;
  }

  walk(start, goal) {
    const place = this.goals.get(goal);
    const moves = [];
    let [minutes, waiting, price] = [0, 0, 0];
    const cautions = [];
    let state = start;
    for (;;) {
      const at = this.next[place * this.rows + this.row(state)];
      if (at === NO_ROUTE) return null;
      if (at === HERE) break;
      const move = this.setups.moves.get(this.moves[at]);
      moves.push(this.moves[at]);
      minutes += move.minutes;
      waiting += move.waiting_minutes ?? 0;
      price += this.table.move_prices[at];
      cautions.push(...move.cautions);
      state = this.after(state, move.leaves);
    }
    return { moves, minutes, waiting, money: price / PER_UNIT, cautions: unique(cautions), end: state };
  }

  // What the way from a row to every goal costs, and the row in which it ends (-1: no way), by the
  // places of the goals. From no row at all there is no way.
  reach(row) {
    if (!this.reached.has(row)) {
      const count = this.table.goals.length;
      const reach = { costs: new Float64Array(count).fill(Infinity), ends: new Int32Array(count).fill(-1) };
      for (let goal = 0; goal < count && row >= 0; goal++) {
        let price = 0;
        let at = row;
        let move = this.next[goal * this.rows + at];
        while (move !== HERE && move !== NO_ROUTE) {
          price += this.table.move_prices[move];
          at = this.rowAfter(at, this.leaving[move]);
          move = this.next[goal * this.rows + at];
        }
        if (move === NO_ROUTE) continue;
        reach.costs[goal] = price / PER_UNIT;
        reach.ends[goal] = at;
      }
      this.reached.set(row, reach);
    }
    return this.reached.get(row);
  }

  // The row of a setup once an act has left what it leaves; -1 where that is none.
  rowAfter(row, leaves) {
    if (!leaves.size) return row;
    if (!this.left.has(leaves)) this.left.set(leaves, new Map());
    const rows = this.left.get(leaves);
    if (!rows.has(row)) {
      const places = this.placesOf(this.numbers[row]);
      let number = 0;
      this.names.forEach((name, axis) => {
        const place = leaves.has(name) ? this.values[axis].indexOf(leaves.get(name)) : places[axis];
        number = number * this.values[axis].length + place;
      });
      rows.set(row, this.rowOf.get(number) ?? -1);
    }
    return rows.get(row);
  }

  service(start) {
    return this.way(start, this.toService);
  }

  parked(start) {
    return this.way(start, this.setups.parked);
  }

  after(state, leaves) {
    return leaves.size ? state.map((old, axis) => leaves.get(this.names[axis]) ?? old) : state;
  }
}

function attemptRoute(make) {
  try {
    return make();
  } catch (error) {
    if (error instanceof UnsafeRoute) return null;
    throw error;
  }
}

// The setup to plan from; see `advice.standing`.
function standingSetup(model, routes, state) {
  let told = new Map();
  for (const [name, variable] of model.setups.variables) if (variable.found) told.set(name, variable.found);
  if (state.walked !== null) told = state.walked;
  for (const act of state.since) {
    const { needs, leaves } = needsAndLeaves(model, act);
    const { moves } = routes.way(routes.start(told), needs);
    const touched = new Set(leaves.keys());
    for (const id of moves) for (const name of model.setups.moves.get(id).leaves.keys()) touched.add(name);
    told = new Map([...told].filter(([name]) => !touched.has(name)));
  }
  const now = new Map([...told, ...state.setup]);
  const start = attemptRoute(() => routes.start(now));
  if (start) return start;
  // A danger that is described stays one until it is said to be gone. Where the two merely cannot
  // go together, what the technician sees outweighs where the last route led.
  const assumed = routes.names.map((n) => now.get(n) ?? model.setups.variables.get(n).worst);
  const breaks = [...model.setups.invariants.values()].some(({ never }) =>
    [...never].every(([n, values]) => namedStates(values).includes(assumed[routes.names.indexOf(n)])),
  );
  if (state.walked === null || !state.setup.size || breaks) return routes.start(now);
  return routes.start(state.setup);
}
