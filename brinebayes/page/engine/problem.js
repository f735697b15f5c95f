// The decision at hand as numbers; see `advice.problem`. An epoch is what lies between two repairs.

// The proof among the checks that were made, and what no check of ours can show: never seen.
const PROVEN = 1n << 1000n;
const NEVER_SEEN = 1n << 1001n;

class Problem {
  constructor(now, rows) {
    const { model, state, routes } = now;
    Object.assign(this, { model, now, epochs: [] });
    const held = heldBy(state, now.notes);
    const only = new Set(held.map((one) => one.act));
    const may = (id) => (!now.blocked.has(id) || only.has(id)) && couldBeMade(model, state, id);
    this.checks = [...model.checks.keys()].filter(may);
    this.repairs = [...model.repairs.keys()].filter(may);
    const here = new Set(now.acts.map((act) => act.id));
    this.tries = this.repairs.map((id) => {
      const made = state.done.filter((one) => one === id).length;
      return model.search.tries - made - (model.repairs.get(id).same_luck && !made ? 1 : 0);
    });
    const { futures, start, weights } = tableOf(now, this.repairs, rows);
    Object.assign(this, { futures, weights });
    const { money, proof, brine } = model.about;
    const own = (item) => priceOfTime(model, item.minutes, item.waiting_minutes);
    const ownChecks = this.checks.map((id) => own(model.checks.get(id)));
    const ownRepairs = this.repairs.map((id) => priceOfRepair(model, state, id));
    this.prices = new Prices(model, routes, this.checks, this.repairs, ownChecks, ownRepairs);
    this.stakes = {
      right: proof.passes_if_works,
      wrong: proof.passes_if_not,
      secondVisit: money.second_visit,
      escalation: money.escalation,
    };
    const fewest = Math.min(this.prices.ownProof, ...ownChecks);
    this.bounds = new Bounds(this.futures, this.prices, this.stakes, fewest);
    this.setup = routes.row(now.start);
    this.answered = now.answered;
    this.openChecks = new Set(this.checks.map((_, k) => k).filter((k) => here.has(this.checks[k])));
    this.proofOpen = here.has(PROOF);
    this.brine = drawsLeft(model, state);
    this.spends = this.checks.map((id) => model.checks.get(id).spends_brine);
    this.refillPrice = brine ? priceOfTime(model, brine.refill_minutes, brine.saturation_minutes) : 0;
    this.held = [...held, ...heldLater(model, state)];
    this.seen = stillKnown(state);
    this.homes = new Map([[PROOF, PROVEN]]);
    this.checks.forEach((check, k) => {
      for (const name of model.checks.get(check).observations.keys()) this.homes.set(name, 1n << BigInt(k));
    });
    this.heldAfter = new Map();
    this.first = new Epoch(this, start, this.answered, this.tries, []);
  }

  // Checks, then repairs, that are held back once these repairs are made (none: now) -> what is to
  // be seen first, as bits.
  holds(repaired) {
    const key = repaired.join();
    if (!this.heldAfter.has(key)) this.heldAfter.set(key, this.heldBack(repaired));
    return this.heldAfter.get(key);
  }

  heldBack(repaired) {
    const later = repaired.length > 0;
    const names = new Set(repaired.map((k) => this.repairs[k]));
    const found = [new Map(), new Map()];
    for (const { act, until, lasting, after } of this.held) {
      if ((later && !lasting) || (after && !after.some((id) => names.has(id)))) continue;
      [this.checks, this.repairs].forEach((ids, kind) => {
        const place = ids.indexOf(act);
        if (place < 0) return;
        const asked = until.filter((name) => later || !this.seen.has(name));
        const bits = asked.reduce((all, name) => all | (this.homes.get(name) ?? NEVER_SEEN), 0n);
        found[kind].set(place, (found[kind].get(place) ?? 0n) | bits);
      });
    }
    return found;
  }
}

class Epoch {
  // `repaired`: places of the repairs since now.
  constructor(problem, futures, answered, tries, repaired) {
    const later = repaired.length > 0;
    Object.assign(this, { problem, answered, tries, repaired, later, number: problem.epochs.length });
    problem.epochs.push(this);
    this.open = tries.map((n) => n > 0);
    const { decisions } = problem.bounds;
    const classes = futures.map((f) => problem.futures.class(f));
    this.order = futures.map((_, k) => k);
    this.order.sort(
      (a, b) => decisions[classes[a]] - decisions[classes[b]] || classes[a] - classes[b] || a - b,
    );
    this.futures = this.order.map((k) => futures[k]);
    this.classes = Int32Array.from(this.order, (k) => classes[k]);
    [this.heldChecks, this.heldRepairs] = problem.holds(repaired);
    // Checks, as bits, that some act waits for.
    this.awaited = [...this.heldChecks.values(), ...this.heldRepairs.values()].reduce((a, b) => a | b, 0n);
    this.joints = new Map();
    this.tables = new Map();
    this.passages = new Map();
    this.followers = new Map();
  }

  get passes() {
    this.passing ??= this.problem.futures.likelihoods(PROOF, this.futures)[0];
    return this.passing;
  }

  awaits(check) {
    return Boolean((this.awaited >> BigInt(check)) & 1n);
  }

  // What some checks show, those of them that say something new: {parts: Map check -> joint, size}.
  shown(among) {
    const key = among.join();
    if (!this.tables.has(key)) {
      const parts = new Map();
      let size = 0;
      for (const check of among) {
        if (!this.later && !this.problem.openChecks.has(check) && !this.heldChecks.has(check)) continue;
        const joint = this.joint(check);
        if (!joint.length) continue;
        parts.set(check, joint);
        size += joint.length * this.futures.length;
      }
      this.tables.set(key, { parts, size });
    }
    return this.tables.get(key);
  }

  // P(joint outcome of a check's new observations | future), one Float64Array each; empty without.
  joint(check) {
    if (!this.joints.has(check)) {
      const { model, futures } = this.problem;
      let joint = null;
      for (const name of model.checks.get(this.problem.checks[check]).observations.keys()) {
        if (this.answered.has(name)) continue;
        const each = futures.likelihoods(name, this.futures);
        joint = joint ? fewer(joint.flatMap((a) => each.map((b) => times(a, b))), model.search.outcomes) : each;
      }
      // It may say nothing new, but a rule may ask for it all the same.
      const one = () => new Float64Array(this.futures.length).fill(1);
      this.joints.set(check, joint ?? (this.awaits(check) ? [one()] : []));
    }
    return this.joints.get(check);
  }

  // Where a repair leads from the futures of this epoch.
  passage(repair) {
    if (!this.passages.has(repair)) {
      this.passages.set(repair, this.problem.futures.repaired(repair, this.futures));
      this.problem.bounds.grow();
    }
    return this.passages.get(repair);
  }

  // The repairs since now and one more, each once, in the order of the model.
  repairedToo(repair) {
    return unique([...this.repaired, repair]).sort((a, b) => a - b);
  }

  // The epoch that a repair opens; `made`: the checks that were made in this one, as bits.
  after(repair, made) {
    const key = `${repair} ${made & ~PROVEN}`;
    if (!this.followers.has(key)) {
      const { problem } = this;
      const answered = new Set(this.answered);
      problem.checks.forEach((check, k) => {
        if (!((made >> BigInt(k)) & 1n)) return;
        for (const name of problem.model.checks.get(check).observations.keys()) answered.add(name);
      });
      const newest = versionsOf(problem.model, [problem.repairs[repair]]);
      for (const name of [...answered]) if (newest.get(name)?.[1]) answered.delete(name);
      const tries = this.tries.map((n, k) => n - (k === repair ? 1 : 0));
      this.followers.set(key, new Epoch(problem, this.passage(repair).futures, answered, tries, this.repairedToo(repair)));
    }
    return this.followers.get(key);
  }
}

// The rows of a joint table, the least likely ones taken together.
function fewer(joint, most) {
  if (joint.length <= most) return joint;
  const totals = joint.map((row) => compared(weightOf(row)));
  const order = joint.map((_, k) => k).sort((a, b) => totals[b] - totals[a] || a - b);
  const rest = new Float64Array(joint[0].length);
  for (const k of order.slice(most - 1)) for (let f = 0; f < rest.length; f++) rest[f] += joint[k][f];
  return [...order.slice(0, most - 1).map((k) => joint[k]), rest];
}
