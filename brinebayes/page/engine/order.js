// Elimination orders: which variable to sum out next so that the tables stay small.
// The same search as `network.order`, with the same ties and the same seeded chance.

// The generator that Python's `random.Random(seed)` is, for seeds of one word.
// Source: Matsumoto & Nishimura 1998 (from memory), checked against Python in the tests.
class Twister {
  constructor(seed) {
    const state = (this.state = new Uint32Array(624));
    this.at = 624;
    state[0] = 19650218;
    for (let i = 1; i < 624; i++) {
      const s = state[i - 1] ^ (state[i - 1] >>> 30);
      state[i] = Math.imul(1812433253, s) + i;
    }
    let i = 1;
    for (let k = 0; k < 624; k++) {
      const s = state[i - 1] ^ (state[i - 1] >>> 30);
      state[i] = (state[i] ^ Math.imul(s, 1664525)) + seed;
      if (++i >= 624) {
        state[0] = state[623];
        i = 1;
      }
    }
    for (let k = 0; k < 623; k++) {
      const s = state[i - 1] ^ (state[i - 1] >>> 30);
      state[i] = (state[i] ^ Math.imul(s, 1566083941)) - i;
      if (++i >= 624) {
        state[0] = state[623];
        i = 1;
      }
    }
    state[0] = 0x80000000;
  }

  word() {
    const state = this.state;
    if (this.at >= 624) {
      for (let k = 0; k < 624; k++) {
        const y = (state[k] & 0x80000000) | (state[(k + 1) % 624] & 0x7fffffff);
        state[k] = state[(k + 397) % 624] ^ (y >>> 1) ^ (y & 1 ? 0x9908b0df : 0);
      }
      this.at = 0;
    }
    let y = state[this.at++];
    y ^= y >>> 11;
    y ^= (y << 7) & 0x9d2c5680;
    y ^= (y << 15) & 0xefc60000;
    return (y ^ (y >>> 18)) >>> 0;
  }

  random() {
    const a = this.word() >>> 5;
    const b = this.word() >>> 6;
    return (a * 67108864 + b) / 9007199254740992;
  }
}

// Neighbours of each of `count` vertices when every family is joined up.
function moralGraph(families, count) {
  const near = Array.from({ length: count }, () => emptySet(count));
  for (const family of families) {
    for (const i of family) for (const j of family) if (i !== j) addBit(near[i], j);
  }
  return near;
}

const minWeight = (near, states, v) => Math.log2(tableSize(near[v], states) * states[v]);

function minFill(near, states, v) {
  const around = near[v];
  const count = countBits(around);
  let present = 0;
  eachBit(around, (i) => {
    present += countCommon(near[i], around);
  });
  return (count * (count - 1) - present) / 2;
}

function weightedFill(near, states, v) {
  const around = near[v];
  let total = 0;
  eachBit(around, (i) => {
    const apart = without(around, near[i]);
    eachBit(apart, (j) => {
      if (j > i) total += states[i] * states[j];
    });
  });
  return total;
}

const PRICES = [[minFill], [weightedFill], [minFill, minWeight], [minWeight, minFill]];

// Enough where somebody waits.
const WHILE_WAITING = [[weightedFill]];

const sixDigits = (value) => Math.round(value * 1e6) / 1e6;

function lessThan(a, b) {
  for (let k = 0; k < a.length; k++) if (a[k] !== b[k]) return a[k] < b[k];
  return false;
}

// Eliminate the cheapest vertex until none is left; ties fall by `chance`, then by number.
function greedy(near, states, prices, chance) {
  const graph = near.map((set) => set.slice());
  const priced = (v) => {
    const luck = chance ? chance.random() : 0;
    return [...prices.map((price) => sixDigits(price(graph, states, v))), luck, v];
  };
  const cost = graph.map((_, v) => priced(v));
  const order = [];
  for (let left = graph.length; left; left--) {
    let best = null;
    for (const one of cost) if (one && (best === null || lessThan(one, best))) best = one;
    const v = best[best.length - 1];
    cost[v] = null;
    order.push(v);
    // The price of a neighbour changes; that of a vertex further off only when it sees a new edge.
    let stale = graph[v].slice();
    eachBit(graph[v].slice(), (i) => {
      const added = without(graph[v], graph[i]);
      dropBit(added, i);
      graph[i] = union(graph[i], added);
      dropBit(graph[i], v);
      if (countBits(added)) stale = union(stale, graph[i]);
    });
    eachBit(stale, (i) => {
      if (cost[i]) cost[i] = priced(i);
    });
  }
  return order;
}

// The cluster (vertex and its neighbours when its turn comes) of each step.
function eliminated(near, order) {
  const graph = near.map((set) => set.slice());
  return order.map((v) => {
    const around = graph[v];
    eachBit(around, (i) => {
      graph[i] = union(graph[i], around);
      dropBit(graph[i], i);
      dropBit(graph[i], v);
    });
    const cluster = around.slice();
    addBit(cluster, v);
    return cluster;
  });
}

// For each step the step at which its cluster's next vertex is eliminated (-1: none left).
function nextCluster(clusters, order) {
  const step = [];
  order.forEach((v, i) => {
    step[v] = i;
  });
  return clusters.map((cluster, k) => {
    let first = -1;
    eachBit(cluster, (j) => {
      if (j !== order[k] && (first < 0 || step[j] < first)) first = step[j];
    });
    return first;
  });
}

// Table entries over the maximal cliques that an order makes.
function totalSize(near, states, order) {
  const clusters = eliminated(near, order);
  const inside = new Set();
  nextCluster(clusters, order).forEach((after, k) => {
    if (after >= 0 && countBits(clusters[after]) === countBits(clusters[k]) - 1) inside.add(after);
  });
  return sum(clusters.map((c, i) => (inside.has(i) ? 0 : tableSize(c, states))));
}

// The best order among greedy ones: ties by name first, then `tries` times by seeded chance.
function searchOrder(near, states, tries, tried = PRICES) {
  let best = null;
  for (let seed = 0; seed <= tries; seed++) {
    for (const prices of tried) {
      const order = greedy(near, states, prices, seed ? new Twister(seed) : null);
      const found = [totalSize(near, states, order), ...order];
      if (best === null || lessThan(found, best)) best = found;
    }
  }
  return best ? best.slice(1) : [];
}
