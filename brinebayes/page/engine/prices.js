// What checks, repairs, proofs and ways to end cost from a setup, its route included; see
// `advice.prices`. A setup is the number of its row in the routes.

// The price of what no safe route leads to; finite, so that nothing times it is nothing.
const FAR = 1e12;
const finite = (price) => Math.min(price, FAR);

class Prices {
  constructor(model, routes, checks, repairs, ownChecks, ownRepairs) {
    const { proof, money } = model.about;
    const ownProof = priceOfTime(model, proof.minutes, proof.waiting_minutes);
    Object.assign(this, { ownChecks, ownRepairs, ownProof, escalation: money.escalation });
    this.ways = routes.ways ??= new Ways(model, routes);
    this.checks = Int32Array.from(checks, (id) => this.ways.place.get(id));
    this.repairs = Int32Array.from(repairs, (id) => this.ways.place.get(id));
    this.proof = this.ways.place.get(PROOF);
    this.kept = new Map();
  }

  // The legs from one setup.
  legs(setup) {
    let found = this.kept.get(setup);
    if (found === undefined) this.kept.set(setup, (found = this.from(setup)));
    return found;
  }

  from(setup) {
    const { there, ends, proofs, closes, close, parked } = this.ways.from(setup);
    const each = (places, of, own) => {
      const out = new Float64Array(places.length);
      for (let k = 0; k < out.length; k++) out[k] = (own ? own[k] : 0) + of[places[k]];
      return out;
    };
    const repairs = each(this.repairs, there, this.ownRepairs);
    const proofAfter = each(this.repairs, proofs).map((price) => price + this.ownProof);
    return {
      checks: each(this.checks, there, this.ownChecks),
      checksEnd: this.checks.map((way) => ends[way]),
      repairs,
      repairsEnd: this.repairs.map((way) => ends[way]),
      proofAfter,
      tries: repairs.map((price, k) => price + proofAfter[k]),
      closeAfter: each(this.repairs, closes),
      proof: there[this.proof] + this.ownProof,
      proofEnd: ends[this.proof],
      close,
      passOn: finite(parked + this.escalation),
    };
  }
}

// The ways from a setup to all acts of a model. Many acts need the same setup and leave the same:
// one way serves them all. Kept with the routes.
class Ways {
  constructor(model, routes) {
    this.routes = routes;
    this.place = new Map(); // act -> its way
    this.all = []; // {goal, leaves}
    const numbers = new Map();
    for (const [id, { needs, leaves }] of [...model.checks, ...model.repairs, [PROOF, model.about.proof]]) {
      const goal = routes.goals.get(routes.goal(needs));
      const key = `${goal} ${[...leaves].join()}`;
      if (!numbers.has(key)) {
        numbers.set(key, this.all.length);
        this.all.push({ goal, leaves });
      }
      this.place.set(id, numbers.get(key));
    }
    this.proof = routes.goals.get(routes.goal(model.about.proof.needs));
    this.service = routes.goals.get(routes.goal(routes.toService));
    this.parked = routes.goals.get(routes.goal(model.setups.parked));
    this.serviceRow = routes.row(routes.serviceState);
    this.kept = new Map();
  }

  // From one setup: of each way what it costs, the setup after the act, and what a proof and handing
  // back cost from there; then what handing back and leaving cost at once.
  from(setup) {
    if (this.kept.has(setup)) return this.kept.get(setup);
    const { routes, all } = this;
    const { costs, ends: reached } = routes.reach(setup);
    const column = () => new Float64Array(all.length);
    const found = { there: column(), ends: new Int32Array(all.length), proofs: column(), closes: column() };
    all.forEach(({ goal, leaves }, k) => {
      // What cannot be reached is never chosen; any setup will do for what would follow.
      const end = reached[goal] < 0 ? this.serviceRow : routes.rowAfter(reached[goal], leaves);
      const after = routes.reach(end).costs;
      found.there[k] = finite(costs[goal]);
      found.ends[k] = end;
      found.proofs[k] = finite(after[this.proof]);
      found.closes[k] = finite(after[this.service]);
    });
    found.close = finite(costs[this.service]);
    found.parked = finite(costs[this.parked]);
    this.kept.set(setup, found);
    return found;
  }
}
