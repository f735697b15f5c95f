// What checks, repairs, proofs and ways to end cost from a setup, its route included; see
// `advice.prices`.

// The price of what no safe route leads to; finite, so that nothing times it is nothing.
const FAR = 1e12;

class Prices {
  constructor(model, routes, checks, repairs, ownChecks, ownRepairs) {
    Object.assign(this, { model, routes, ownChecks, ownRepairs });
    const { proof } = model.about;
    this.ownProof = priceOfTime(model, proof.minutes, proof.waiting_minutes);
    const access = ({ needs, leaves }) => ({ goal: routes.goal(needs), leaves });
    this.checks = checks.map((id) => access(model.checks.get(id)));
    this.repairs = repairs.map((id) => access(model.repairs.get(id)));
    this.proof = access(proof);
    this.service = routes.goal(routes.toService);
    this.parked = routes.goal(model.setups.parked);
    this.numbers = new Map();
    this.setups = [];
    this.kept = new Map();
  }

  // The number of a setup in this search.
  number(setup) {
    const key = setup.join();
    if (!this.numbers.has(key)) {
      this.numbers.set(key, this.setups.length);
      this.setups.push(setup);
    }
    return this.numbers.get(key);
  }

  // The legs from one setup, by its number.
  legs(setup) {
    if (!this.kept.has(setup)) this.kept.set(setup, this.from(this.routes.reach(this.setups[setup])));
    return this.kept.get(setup);
  }

  from(reach) {
    const { routes } = this;
    const finite = (price) => Math.min(price, FAR);
    const ends = new Map();
    const after = ({ goal, leaves }) => {
      const key = `${goal} ${[...leaves].join()}`;
      if (!ends.has(key)) {
        const at = reach.ends.get(goal);
        // What cannot be reached is never chosen; any setup will do for what would follow.
        const end = at === null ? routes.serviceState : routes.after(at, leaves);
        const { costs } = routes.reach(end);
        const proof = finite(costs.get(this.proof.goal)) + this.ownProof;
        ends.set(key, { end: this.number(end), proof, close: finite(costs.get(this.service)) });
      }
      return ends.get(key);
    };
    const way = (access) => finite(reach.costs.get(access.goal));
    const proof = after(this.proof);
    return {
      checks: Float64Array.from(this.checks, (one, k) => this.ownChecks[k] + way(one)),
      checksEnd: this.checks.map((one) => after(one).end),
      repairs: Float64Array.from(this.repairs, (one, k) => this.ownRepairs[k] + way(one)),
      repairsEnd: this.repairs.map((one) => after(one).end),
      proofAfter: Float64Array.from(this.repairs, (one) => after(one).proof),
      closeAfter: Float64Array.from(this.repairs, (one) => after(one).close),
      proof: way(this.proof) + this.ownProof,
      proofEnd: proof.end,
      close: finite(reach.costs.get(this.service)),
      passOn: finite(reach.costs.get(this.parked) + this.model.about.money.escalation),
    };
  }
}
