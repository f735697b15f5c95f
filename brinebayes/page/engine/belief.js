// What a visit has shown, as beliefs about the unit as it is now; see `network.evidence` and
// `network.belief`. A question is {site: Map, complaints, done, seen: [{epoch, observation,
// likelihood}]}.
//
// A call comes when any fault is present, and with probability c when none is. So for anything x
//     P(x, call) = P(x) - (1 - c) P(x, no fault),
// and a proof with likelihoods a (does not work) and b (works) is a P(x) + (b - a) P(x, works).

const LEAST = 1e-12;

// Everything that was said and seen, of several answers about the same copy the last one.
function latestFindings(everything, newest) {
  const latest = new Map();
  for (const { observation, epoch, likelihood } of everything) {
    const copy = newestCopy(newest, observation, epoch);
    const key = `${observation} ${copy}`;
    latest.delete(key);
    latest.set(key, { observation, epoch, copy, likelihood });
  }
  return [...latest.values()];
}

function saidAndSeen(model, question) {
  for (const one of question.complaints) lookup("complaint", one, model.complaints);
  const said = question.complaints.map((observation) => ({ epoch: 0, observation, likelihood: [1, 0] }));
  const everything = [...said, ...question.seen];
  const { states } = outlineOf(model);
  for (const { observation, epoch, likelihood } of everything) {
    const count = lookup("observation", observation, states).length;
    const fine = likelihood.length === count && likelihood.every((p) => p >= 0 && p < Infinity);
    if (!fine) throw new UsageError(`${observation}: these are no likelihoods of its outcomes`);
    if (!(epoch >= 0 && epoch <= question.done.length)) throw new UsageError(`no epoch ${epoch}`);
  }
  return everything;
}

class Ground {
  constructor(model, question) {
    const everything = saidAndSeen(model, question);
    this.model = model;
    this.site = question.site;
    this.last = question.done.length;
    this.trees = treesFor(model, question.done, everything.map((s) => [s.observation, s.epoch]));
    this.findings = latestFindings(everything, this.trees.newest);
    this.priors = new Map();
    this.noFault = 1;
    for (const [fault, p] of priorsOf(model, question.site)) {
      const ways = this.trees.ways.get(fault);
      const first = this.trees.paths.get(fault).at(0);
      this.priors.set(fault, ways.map((way, k) => (first[k] === 1 ? p : 1 - p) * way));
      this.noFault *= sum(this.priors.get(fault).filter((_, k) => first[k] === 0));
    }
    for (const name of this.trees.openRoots) {
      if (model.site.has(name)) this.priors.set(name, siteChances(model, question.site, name));
    }
  }

  // Natural log of P(call | site).
  get logCall() {
    return Math.log1p(-(1 - this.model.odds.call_without_fault) * this.noFault);
  }

  // [variable, likelihood over its states] of a finding.
  entered({ observation, epoch, likelihood }) {
    const copy = newestCopy(this.trees.newest, observation, epoch);
    const paths = this.trees.paths.get(observation);
    if (paths) return [observation, paths.at(copy).map((state) => likelihood[state])];
    return [nodeName(observation, copy), likelihood];
  }

  // Likelihoods that hold the unit in a state in which it works, in one epoch.
  working(epoch) {
    return [...this.model.about.works].map(([name, wanted]) => {
      const copy = newestCopy(this.trees.newest, name, epoch);
      return [name, this.trees.paths.get(name).among(copy, wanted).map(Number)];
    });
  }

  proofLikelihoods({ likelihood: [passed, failed] }) {
    const { passes_if_not: not, passes_if_works: works } = this.model.about.proof;
    return [not, works].map((p) => passed * p + failed * (1 - p));
  }

  // A belief as a sum of calibrated trees: {terms: [{share, beliefs}], noFault, logProbability}.
  calibrated(findings = this.findings, held = []) {
    const likelihoods = new Map(this.priors);
    for (const one of held) enter(likelihoods, one);
    for (const one of findings) if (one.observation !== PROOF) enter(likelihoods, this.entered(one));
    const proofs = findings.filter((one) => one.observation === PROOF);
    const found = [];
    for (const passed of combinations(proofs.map(() => 2))) {
      let factor = 1;
      const here = new Map(likelihoods);
      proofs.forEach((proof, k) => {
        const [fails, works] = this.proofLikelihoods(proof);
        factor *= passed[k] ? works - fails : fails;
        if (passed[k]) for (const one of this.working(proof.epoch)) enter(here, one);
      });
      if (factor !== 0) found.push(...this.both(factor, here));
    }
    return this.mixed(found);
  }

  // The unit as it may be, and one without any fault at first, as far as they are possible.
  both(factor, likelihoods) {
    const whole = attempt(() => calibrate(this.trees.tree, likelihoods));
    if (whole === null) return [];
    const found = [{ factor, healthy: false, beliefs: whole }];
    if (this.model.odds.call_without_fault < 1) {
      const sound = new Map(likelihoods);
      for (const fault of this.model.faults.keys()) {
        enter(sound, [fault, this.trees.paths.get(fault).at(0).map((state) => 1 - state)]);
      }
      const healthy = attempt(() => calibrate(this.trees.tree, sound));
      if (healthy !== null) found.push({ factor, healthy: true, beliefs: healthy });
    }
    return found;
  }

  mixed(found) {
    if (!found.length) throw new EvidenceConflict("these findings cannot hold together");
    const c = this.model.odds.call_without_fault;
    const top = Math.max(...found.map((one) => one.beliefs.logEvidence));
    let sound = 0;
    const shares = found.map(({ factor, healthy, beliefs }) => {
      const value = factor * Math.exp(beliefs.logEvidence - top);
      if (healthy) sound += value;
      return healthy ? -(1 - c) * value : value;
    });
    const total = sum(shares);
    if (total <= LEAST * Math.max(...shares.map(Math.abs))) {
      throw new EvidenceConflict("these findings cannot hold together with a call");
    }
    const terms = found.map(({ beliefs }, k) => ({ share: shares[k] / total, beliefs }));
    const noFault = Math.min(Math.max((c * sound) / total, 0), 1);
    return new Mixture(this, terms, noFault, top + Math.log(total));
  }
}

function enter(likelihoods, [name, values]) {
  const old = likelihoods.get(name);
  likelihoods.set(name, old ? Array.from(old, (p, k) => p * values[k]) : values);
}

// What is impossible is null.
function attempt(make) {
  try {
    return make();
  } catch (error) {
    if (error instanceof EvidenceConflict) return null;
    throw error;
  }
}

class Mixture {
  constructor(ground, terms, noFault, logProbability) {
    Object.assign(this, { ground, terms, noFault, logProbability });
  }

  // The sum over the terms; rounding never takes it below 0.
  sum(of) {
    const parts = this.terms.map(({ share, beliefs }) => [share, of(beliefs)]);
    return Array.from(parts[0][1], (_, k) =>
      Math.max(sum(parts.map(([share, values]) => share * values[k])), 0),
    );
  }

  // For each fault, in order, P(present now).
  get faults() {
    this.kept ??= [...this.ground.model.faults.keys()].map((fault) => {
      const paths = this.ground.trees.paths.get(fault);
      const now = paths.states.map((path) => path[path.length - 1]);
      const chances = this.sum((beliefs) => [
        marginal(beliefs, [fault]).reduce((total, p, k) => total + (now[k] ? p : 0), 0),
      ]);
      return chances[0];
    });
    return this.kept;
  }
}

// Beliefs about the unit as it is now; what is not asked for is not computed.
class Belief {
  constructor(model, question) {
    this.model = model;
    this.ground = new Ground(model, question);
    this.mixture = this.ground.calibrated();
  }

  get logEvidence() {
    return this.mixture.logProbability - this.ground.logCall;
  }

  get noFault() {
    return this.mixture.noFault;
  }

  get faults() {
    const names = [...this.model.faults.keys()];
    return new Map(names.map((name, k) => [name, this.mixture.faults[k]]));
  }

  get works() {
    this.working ??= this.under([], this.ground.working(this.ground.last));
    return this.working.chance;
  }

  // P of more findings or held states given all that is known, and the faults under them.
  under(findings, held = []) {
    const old = this.ground.findings.filter((one) => !findings.some((f) => f.replaces === one));
    const found = attempt(() => this.ground.calibrated([...old, ...findings], held));
    if (found === null) return { chance: 0, faults: this.mixture.faults.map(() => 0) };
    const chance = Math.min(Math.exp(found.logProbability - this.mixture.logProbability), 1);
    return { chance, faults: found.faults };
  }

  // About `n` weighted joint states, with rows for every fault above 1e-4.
  worlds(n, seed) {
    return drawWorlds(this.ground, this.mixture, n, seed);
  }

  // About `n` weighted joint states, with rows for every fault above 1e-4.
  worlds(n, seed) {
    return drawWorlds(this.ground, this.mixture, n, seed);
  }

  // The finding that already answers an observation for the unit as it is now, if there is one.
  answered(name) {
    const copy = newestCopy(this.ground.trees.newest, name, this.ground.last);
    return this.ground.findings.find((one) => one.observation === name && one.copy === copy);
  }

  // P(each outcome of the next answer) of an observation, or of the proof.
  outcomes(name) {
    this.predictions ??= new Map();
    if (!this.predictions.has(name)) this.predictions.set(name, this.predict(name));
    return this.predictions.get(name);
  }

  predict(name) {
    const again = this.answered(name);
    if (again) return this.joint(name).map((one) => one.chance);
    if (name === PROOF) {
      const { passes_if_works: right, passes_if_not: wrong } = this.model.about.proof;
      const passes = right * this.works + wrong * (1 - this.works);
      return [passes, 1 - passes];
    }
    const leaf = nodeName(name, newestCopy(this.ground.trees.newest, name, this.ground.last));
    return this.mixture.sum((beliefs) => predicted(beliefs, leaf));
  }

  // For each outcome {chance, faults}: how likely it is, and each fault under it.
  joint(name) {
    const { last } = this.ground;
    const count = outlineOf(this.model).states.get(name).length;
    const again = this.answered(name);
    const copy = newestCopy(this.ground.trees.newest, name, last);
    return Array.from({ length: count }, (_, place) => {
      const weight = again ? again.likelihood[place] : 1;
      const likelihood = Array.from({ length: count }, (_, k) => (k === place ? weight : 0));
      if (!weight) return { chance: 0, faults: this.mixture.faults.map(() => 0) };
      const epoch = again ? again.epoch : last;
      return this.under([{ observation: name, epoch, copy, likelihood, replaces: again }]);
    });
  }
}
