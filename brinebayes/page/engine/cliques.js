// From an elimination order to a rooted tree of cliques; the same tree as `network.cliques` makes.

const CLIQUE_COST = 80;

// {cliques, parent, depth}: by depth, then by how many states a clique sums out to its parent.
function rootedTree(near, states, order) {
  if (!order.length) return { cliques: [emptySet(1)], parent: [-1], depth: [0] };
  const tree = new LooseTree(near, states, order);
  tree.merge(CLIQUE_COST);
  tree.rehang();
  return tree.rooted();
}

class LooseTree {
  constructor(near, states, order) {
    const clusters = eliminated(near, order);
    this.states = states;
    this.masks = new Map(clusters.map((mask, i) => [i, mask]));
    this.sizes = new Map(clusters.map((mask, i) => [i, tableSize(mask, states)]));
    this.near = new Map(clusters.map((_, i) => [i, new Set()]));
    const last = clusters.length - 1;
    nextCluster(clusters, order).forEach((after, i) => {
      if (i !== last) this.join(i, after >= 0 ? after : last);
    });
  }

  join(a, b) {
    this.near.get(a).add(b);
    this.near.get(b).add(a);
  }

  cut(a, b) {
    this.near.get(a).delete(b);
    this.near.get(b).delete(a);
  }

  contract(a, b) {
    this.masks.set(a, union(this.masks.get(a), this.masks.get(b)));
    this.masks.delete(b);
    this.sizes.delete(b);
    this.sizes.set(a, tableSize(this.masks.get(a), this.states));
    for (const other of [...this.near.get(b)]) {
      this.cut(b, other);
      if (other !== a) this.join(a, other);
    }
    this.near.delete(b);
  }

  added(a, b) {
    const together = tableSize(union(this.masks.get(a), this.masks.get(b)), this.states);
    return together - this.sizes.get(a) - this.sizes.get(b);
  }

  // Contract the edge that adds least as long as it adds less than a clique costs.
  merge(cost) {
    const count = this.masks.size;
    const key = (a, b) => Math.min(a, b) * count + Math.max(a, b);
    const prices = new Map();
    for (const [a, others] of this.near) {
      for (const b of others) if (a < b) prices.set(key(a, b), this.added(a, b));
    }
    while (prices.size) {
      let price = Infinity;
      let edge = -1;
      for (const [one, value] of prices) {
        if (value < price || (value === price && one < edge)) [price, edge] = [value, one];
      }
      if (price >= cost) return;
      const [a, b] = [Math.floor(edge / count), edge % count];
      for (const one of [a, b]) for (const other of this.near.get(one)) prices.delete(key(one, other));
      this.contract(a, b);
      for (const other of this.near.get(a)) prices.set(key(a, other), this.added(a, other));
    }
  }

  // Move each edge to the smallest cliques, one on each side, that hold its separator.
  rehang() {
    const edges = [];
    for (const [a, others] of this.near) for (const b of others) if (a < b) edges.push([a, b]);
    edges.sort((x, y) => x[0] - y[0] || x[1] - y[1]);
    for (const [a, b] of edges) {
      const shared = common(this.masks.get(a), this.masks.get(b));
      this.cut(a, b);
      const side = this.reached(a);
      const ends = [null, null];
      for (const [i, mask] of this.masks) {
        if (!isWithin(shared, mask)) continue;
        const at = side.has(i) ? 0 : 1;
        const found = [this.sizes.get(i), i];
        if (ends[at] === null || lessThan(found, ends[at])) ends[at] = found;
      }
      this.join(ends[0][1], ends[1][1]);
    }
  }

  reached(start) {
    const found = new Map([[start, 0]]);
    const line = [start];
    for (const one of line) {
      for (const other of this.near.get(one)) {
        if (!found.has(other)) {
          found.set(other, found.get(one) + 1);
          line.push(other);
        }
      }
    }
    return found;
  }

  // Hung from the clique that makes it flattest; of several, from the largest.
  rooted() {
    let root = null;
    for (const i of this.masks.keys()) {
      const found = [Math.max(...this.reached(i).values()), -this.sizes.get(i), i];
      if (root === null || lessThan(found, root)) root = found;
    }
    const depth = this.reached(root[2]);
    const above = new Map();
    for (const clique of depth.keys()) {
      for (const other of this.near.get(clique)) {
        if (depth.get(other) < depth.get(clique)) above.set(clique, other);
      }
    }
    const key = new Map();
    for (const clique of depth.keys()) {
      const mask = this.masks.get(clique);
      const own = above.has(clique) ? without(mask, this.masks.get(above.get(clique))) : mask;
      key.set(clique, [depth.get(clique), tableSize(own, this.states), clique]);
    }
    const order = [...depth.keys()].sort((a, b) => (lessThan(key.get(a), key.get(b)) ? -1 : 1));
    const place = new Map(order.map((clique, i) => [clique, i]));
    return {
      cliques: order.map((clique) => this.masks.get(clique)),
      parent: order.map((clique) => (above.has(clique) ? place.get(above.get(clique)) : -1)),
      depth: order.map((clique) => depth.get(clique)),
    };
  }
}
