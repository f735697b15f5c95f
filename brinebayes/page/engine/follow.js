// What follows a belief: the acts worth following, every outcome of each, and what these are worth;
// see `advice.follow` and `advice.estimate`.

const weighedLog = (x) => (x > 0 ? x * Math.log2(x) : 0);

// Entropy in bits of weights, times their total. Source: Shannon 1948.
function missingBits(weights) {
  let total = 0;
  let parts = 0;
  for (let k = 0; k < weights.length; k++) {
    total += weights[k];
    parts += weighedLog(weights[k]);
  }
  return Math.max(weighedLog(total) - parts, 0);
}

// Places of the checks that tell most for their price: by bits, half as many by sureness.
function bestTelling(tells, prices, width, tiny) {
  const rate = (k, kind) => compared(tells[k][kind] / (prices[k] + tiny));
  const by = (kind, count) =>
    tells.map((_, k) => k).sort((a, b) => rate(b, kind) - rate(a, kind) || a - b).slice(0, count);
  return unique([...by(0, width), ...by(1, Math.floor(width / 2))]).sort((a, b) => a - b);
}

class Follow {
  constructor(problem) {
    Object.assign(this, { problem, judged: problem.model.search, expansions: 0, work: 0 });
    this.near = problem.checks.map((_, k) => k);
    this.rate = { check: -1, price: 0 };
    this.nodes = new Map();
  }

  root() {
    const { problem } = this;
    const { first } = problem;
    const weights = Float64Array.from(first.order, (k) => problem.weights[k]);
    const { setup, proofOpen: proof, brine } = problem;
    return new Node({ epoch: first, weights, total: sum(weights), setup, proof, brine });
  }

  // The belief after an outcome of an act.
  child(node, option, at) {
    const { problem } = this;
    const legs = problem.prices.legs(node.setup);
    let { epoch, made, proof, brine, story, setup, weights } = node;
    if (option.kind === "check") {
      weights = times(weights, epoch.joint(option.index)[at]);
      setup = legs.checksEnd[option.index];
      made |= 1n << BigInt(option.index);
      brine = this.brineAfter(brine, option.index);
      story = told(story, `${epoch.number} ${option.index} ${at}`);
    } else if (option.kind === "prove") {
      weights = weights.map((w, f) => w * (at === 0 ? epoch.passes[f] : 1 - epoch.passes[f]));
      [setup, proof] = [legs.proofEnd, false];
      made |= PROVEN;
      story = told(story, `${epoch.number} -1 ${at}`);
    } else {
      const reached = carried(epoch.passage(option.index), weights);
      epoch = epoch.after(option.index, made);
      weights = Float64Array.from(epoch.order, (k) => reached[k]);
      [setup, made, proof] = [legs.repairsEnd[option.index], 0n, true];
    }
    const key = `${epoch.number} ${setup} ${brine} ${story.join(";")}`;
    if (!this.nodes.has(key)) {
      const bounds = { lower: option.lowers[at], upper: option.uppers[at], guess: option.guesses[at] };
      const total = option.totals[at];
      const depth = node.depth + 1;
      this.nodes.set(key, new Node({ epoch, weights, total, setup, made, proof, brine, story, depth, ...bounds }));
    }
    return this.nodes.get(key);
  }

  brineAfter(left, check) {
    const { brine } = this.problem.model.about;
    const spent = this.problem.spends[check];
    if (brine === null || !spent) return left;
    const full = brine.draws;
    return (left > Math.min(spent, full) - 1e-9 ? left : full) - spent;
  }

  // The price of a check here: way, work, and a refill where it needs one first.
  priceOfCheck(legs, left, check) {
    const { brine } = this.problem.model.about;
    if (brine === null) return legs.checks[check];
    const short = left <= Math.min(this.problem.spends[check], brine.draws) - 1e-9;
    return legs.checks[check] + (short ? this.problem.refillPrice : 0);
  }

  // A belief from weights over the futures of an epoch, and the chance of an outcome in each.
  byClass({ classes, futures }, weights, chances = null) {
    const out = new Float64Array(this.problem.bounds.classes);
    if (chances === null) for (let f = 0; f < futures.length; f++) out[classes[f]] += weights[f];
    else for (let f = 0; f < futures.length; f++) out[classes[f]] += weights[f] * chances[f];
    return out;
  }

  // Follow the promising acts of a belief, or every one, by all their outcomes.
  expand(node, every = false) {
    const { problem } = this;
    const { bounds, prices } = problem;
    const { epoch } = node;
    this.expansions++;
    const shown = epoch.shown(this.near);
    this.work += Math.max(this.judged.least, shown.size / this.judged.whole);
    const legs = prices.legs(node.setup);
    const belief = this.byClass(epoch, node.weights);
    node.belief = belief;
    const checks = [...shown.parts.keys()].filter((check) => {
      const bit = 1n << BigInt(check);
      const waits = (epoch.heldChecks.get(check) ?? 0n) & ~node.made;
      return !(node.made & bit) && !waits && legs.checks[check] < FAR;
    });
    const paid = checks.map((check) => this.priceOfCheck(legs, node.brine, check));
    const outcomes = checks.map((check) => shown.parts.get(check).map((p) => this.byClass(epoch, node.weights, p)));
    const tells = this.tellsOf(outcomes);
    if (every) {
      this.setRate(checks, tells);
      this.setNear(checks, tells, paid);
    }
    const width = this.judged.beam;
    const all = every || checks.length <= width;
    const kept = all ? checks.map((_, k) => k) : bestTelling(tells, paid, width, this.judged.tiny);
    const repairs = this.repairsAt(node, belief, legs, every);
    const openNow = this.openRepairs(epoch, node.made);
    node.options = [];
    const add = (kind, index, price, beliefs, setup, open, proof, bits = 0) => {
      const values = beliefs.map((one) => this.valued(one, setup, open, proof));
      node.options.push(new Option(kind, index, price * node.total, values, bits));
    };
    for (const k of kept) {
      const check = checks[k];
      const made = node.made | (1n << BigInt(check));
      const open = epoch.awaits(check) ? this.openRepairs(epoch, made) : openNow;
      add("check", check, paid[k], outcomes[k], legs.checksEnd[check], open, node.proof, tells[k][0]);
    }
    for (const repair of repairs) {
      const after = bounds.repaired(belief, repair);
      const open = this.openAfter(epoch, repair);
      add("repair", repair, legs.repairs[repair], [after], legs.repairsEnd[repair], open, true);
    }
    if (node.proof) {
      const passed = this.byClass(epoch, node.weights, epoch.passes);
      const failed = belief.map((w, c) => Math.max(w - passed[c], 0));
      const open = this.openRepairs(epoch, node.made | PROVEN);
      add("prove", 0, legs.proof, [passed, failed], legs.proofEnd, open, false);
    }
    const failing = Math.max(0, node.total - belief[problem.futures.sound]);
    const finish = legs.close * node.total + failing * problem.stakes.secondVisit;
    node.options.push(new Option("finish", -1, finish, [], 0));
    node.options.push(new Option("escalate", -1, legs.passOn * node.total, [], 0));
    if (kept.length < checks.length || !every) {
      node.rest = this.restOf(node, belief, checks, kept, repairs, paid, legs);
    }
  }

  // For each check the bits that it tells about what to repair, and by how much it makes the
  // likeliest such answer likelier.
  tellsOf(outcomes) {
    const { bounds } = this.problem;
    const calls = outcomes.map((beliefs) => beliefs.map((belief) => bounds.calls(belief)));
    if (!calls.length) return [];
    // Every check speaks of the same belief before it.
    const before = calls[0].reduce((a, b) => a.map((w, k) => w + b[k]));
    const bits = missingBits(before);
    const sure = Math.max(...before);
    const least = this.judged.rounding * sum(before);
    const beyond = (gain) => (gain > least ? gain : 0);
    return calls.map((rows) => [
      beyond(bits - sum(rows.map(missingBits))),
      beyond(sum(rows.map((row) => Math.max(...row))) - sure),
    ]);
  }

  // Where bits are cheapest at the start, without the way.
  setRate(checks, tells) {
    let best = null;
    checks.forEach((check, k) => {
      if (!(tells[k][0] > this.judged.least_bits)) return;
      const price = this.problem.prices.ownChecks[check] / tells[k][0];
      if (best === null || compared(price) < compared(best.price)) best = { check, price };
    });
    this.rate = best ?? { check: -1, price: 0 };
  }

  // Only the checks that tell most for their price are looked at again further on.
  setNear(checks, tells, paid) {
    const width = this.judged.near * this.judged.beam;
    if (checks.length <= width) return;
    const kept = new Set(bestTelling(tells, paid, width, this.judged.tiny).map((k) => checks[k]));
    this.near = this.near.filter((check) => kept.has(check) || this.problem.first.awaits(check));
  }

  // The repairs that are followed: by what they mend, and change, for their price.
  repairsAt(node, belief, legs, every) {
    const { bounds } = this.problem;
    const width = Math.max(2, Math.floor(this.judged.beam / 2));
    const open = this.openRepairs(node.epoch, node.made);
    const places = open.map((_, k) => k).filter((k) => open[k] && legs.repairs[k] < FAR);
    if (every || places.length <= this.judged.beam) return places;
    const by = (worth, count) => {
      const rate = new Map(places.map((k) => [k, compared(worth(k) / legs.tries[k])]));
      return [...places].sort((a, b) => rate.get(b) - rate.get(a) || a - b).slice(0, count);
    };
    const first = by((k) => bounds.mended(k, belief), width);
    return unique([...first, ...by((k) => bounds.changed(k, belief), Math.floor(width / 2))]).sort((a, b) => a - b);
  }

  // Which repairs may be made once the checks `made` of this epoch have been.
  openRepairs(epoch, made) {
    const open = [...epoch.open];
    for (const [repair, bits] of epoch.heldRepairs) if (bits & ~made) open[repair] = false;
    return open;
  }

  // Which repairs may be made right after a repair.
  openAfter(epoch, repair) {
    const open = [...epoch.open];
    open[repair] = epoch.tries[repair] > 1;
    for (const held of this.problem.holds(epoch.repairedToo(repair))[1].keys()) open[held] = false;
    return open;
  }

  // The total, bounds and estimate of one outcome.
  valued(belief, setup, open, proof) {
    const { bounds } = this.problem;
    const upper = bounds.above(belief, setup, open, proof);
    const [least, proven] = bounds.known(setup);
    const lower = Math.min(dot(belief, least), upper);
    const clip = (value) => Math.min(Math.max(value, lower), upper);
    const total = weightOf(belief);
    const guess = proof
      ? this.afterProof(belief, setup, open)
      : clip(dot(belief, proven)) + this.doubt(belief, total, setup);
    return { total, lower, upper, guess: clip(guess) };
  }

  // The price of what is not known, and of the way to where it can be learnt.
  doubt(belief, total, setup) {
    const { check, price } = this.rate;
    if (check < 0) return Infinity;
    const { prices, bounds } = this.problem;
    const way = prices.legs(setup).checks[check] - prices.ownChecks[check];
    return this.judged.bit_markup * price * missingBits(bounds.calls(belief)) + total * way;
  }

  // The estimate where a proof comes next: the doubt is whether the repair worked.
  afterProof(belief, setup, open) {
    const { bounds } = this.problem;
    const { paid, failed, still, end } = bounds.proved(belief, setup);
    const upper = bounds.above(failed, end, open, false);
    const known = dot(failed, bounds.known(end)[1]);
    return paid + Math.min(known + this.doubt(failed, still, end), upper);
  }

  // Lower bound of the acts of a node that are not followed.
  restOf(node, belief, checks, kept, repairs, paid, legs) {
    const { bounds } = this.problem;
    let rest = Infinity;
    checks.forEach((check, k) => {
      if (kept.includes(k)) return;
      const after = dot(bounds.known(legs.checksEnd[check])[0], belief);
      rest = Math.min(rest, paid[k] * node.total + after);
    });
    const open = this.openRepairs(node.epoch, node.made).filter(Boolean).length;
    if (repairs.length < open) rest = Math.min(rest, dot(belief, bounds.known(node.setup)[0]));
    return rest;
  }
}

// A story with one answer more; whatever their order, the same answers are the same story.
const told = (story, answer) => (story.includes(answer) ? story : sorted([...story, answer]));
