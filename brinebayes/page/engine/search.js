// The search: acts, outcomes, acts again, as deep as the effort allows; see `advice.search`.

// A belief with how the unit stands; its values are weighted by `total`.
class Node {
  constructor(given) {
    const fresh = { made: 0n, proof: false, story: [], depth: 0, lower: -Infinity, upper: Infinity, guess: 0 };
    Object.assign(this, fresh, { options: [], rest: Infinity, open: false, belief: null }, given);
  }
}

// An act at a node with one entry per outcome; `paid`: its own cost times the node's total.
class Option {
  constructor(kind, index, paid, values, bits) {
    Object.assign(this, { kind, index, paid, bits, gap: 0 });
    this.totals = values.map((one) => one.total);
    this.lowers = values.map((one) => one.lower);
    this.uppers = values.map((one) => one.upper);
    this.guesses = values.map((one) => one.guess);
    this.nodes = values.map(() => null);
    this.even = [...this.guesses];
    this.addUp();
  }

  addUp() {
    this.lower = this.paid + sum(this.lowers);
    this.upper = this.paid + sum(this.uppers);
    this.guess = this.paid + sum(this.guesses);
  }

  // Remember how things stand when all promising acts have been looked into alike. `first`: the
  // share of what each outcome was worth one act deep.
  settle(first) {
    this.even = this.even.map((value, k) => first * value + (1 - first) * this.guesses[k]);
    this.gap = this.upper - this.lower;
  }

  // The estimate of each outcome, fit to be compared with those of other acts.
  fair() {
    const sure = this.gap > 0 ? 1 - (this.upper - this.lower) / this.gap : 1;
    return this.even.map((e, k) => {
      const value = e + sure * (this.guesses[k] - e);
      return Math.min(Math.max(value, this.lowers[k]), this.uppers[k]);
    });
  }
}

const byKey = (key) => (a, b) => compared(key(a)) - compared(key(b)) || byName(a.kind, b.kind) || a.index - b.index;
const byGuess = byKey((option) => option.guess);
const byLower = byKey((option) => option.lower);

class Search {
  constructor(problem) {
    this.judged = problem.model.search;
    this.follower = new Follow(problem);
  }

  // Search until the best act is certain or the effort is spent; the root.
  run() {
    const root = this.follower.root();
    this.follower.expand(root, true);
    this.back(root);
    if (this.judged.depth > 1) {
      for (const option of this.beam(root)) {
        option.totals.forEach((total, at) => {
          if (compared(total) >= compared(this.judged.notable * root.total)) this.follow([[root, option, at]]);
        });
      }
      for (const option of root.options) option.settle(this.judged.first);
      for (let turn = 0; this.follower.work < this.judged.expansions; turn++) {
        const path = this.path(root, turn);
        if (!path.length) break;
        this.follow(path);
      }
    }
    return { root, rate: this.follower.rate };
  }

  // Acts that are always followed up: by expected cost, and by what they tell for it.
  beam(root) {
    const width = this.judged.beam;
    const several = root.options.filter((option) => option.nodes.length);
    const rate = (option) => compared(option.paid ? -option.bits / option.paid : -Infinity);
    const checks = several.filter((option) => option.kind === "check");
    checks.sort((a, b) => (rate(a) === rate(b) ? 0 : rate(a) - rate(b)) || a.index - b.index);
    const byCost = [...several].sort(byGuess).slice(0, width);
    return unique([...byCost, ...checks.slice(0, Math.floor(width / 2))]);
  }

  // The way to the belief that is followed up next: [node, option, outcome]; or nothing.
  path(root, turn) {
    const path = [];
    let node = root;
    while (node !== null && node.options.length) {
      const open = this.openOptions(node);
      if (!open.length) return [];
      const option = picked(open, turn, node === root);
      const at = this.widest(option, node.depth);
      path.push([node, option, at]);
      node = option.nodes[at];
    }
    return path;
  }

  openOptions(node) {
    const limit = node.upper - this.judged.nothing * node.total;
    const may = (o) => o.nodes.length && o.lower < limit && this.widest(o, node.depth) >= 0;
    return node.options.filter(may);
  }

  // The outcome whose bounds are farthest apart and can still be brought together; or -1.
  widest(option, depth) {
    let best = -1;
    let width = this.judged.nothing * 1e-3;
    option.nodes.forEach((node, at) => {
      const gap = option.uppers[at] - option.lowers[at];
      if (!(compared(gap) > compared(width)) || (node !== null && !node.open)) return;
      if (node === null && depth + 1 >= this.judged.depth) return;
      [best, width] = [at, gap];
    });
    return best;
  }

  // Expand the belief at the end of a path, and carry its values back to the root.
  follow(path) {
    const [last, option, at] = path[path.length - 1];
    if (option.nodes[at] === null) {
      const child = (option.nodes[at] = this.follower.child(last, option, at));
      if (!child.options.length) {
        this.follower.expand(child);
        this.back(child);
      }
    }
    for (const [node, act, outcome] of [...path].reverse()) {
      const below = act.nodes[outcome];
      act.lowers[outcome] = below.lower;
      act.uppers[outcome] = below.upper;
      act.guesses[outcome] = below.guess;
      act.addUp();
      this.back(node);
    }
  }

  // The values of a node from those of its acts; bounds only ever come closer.
  back(node) {
    const least = (key) => Math.min(...node.options.map((option) => option[key]));
    node.upper = Math.min(node.upper, least("upper"));
    node.lower = Math.max(node.lower, Math.min(node.rest, least("lower")));
    node.guess = Math.min(Math.max(least("guess"), node.lower), node.upper);
    node.open = this.openOptions(node).length > 0;
  }
}

// Which act to look into: the best by its estimate, in turn with its rivals.
function picked(options, turn, first) {
  const ranked = [...options].sort(byGuess);
  if (first && turn % 4 < 3) return ranked[Math.min(turn % 2, ranked.length - 1)];
  if (Math.floor(turn / 2) % 2) return [...options].sort(byLower)[0];
  return ranked[0];
}
