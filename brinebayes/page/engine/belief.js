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
    const sides = [this.trees.whole];
    if (model.odds.call_without_fault < 1) sides.push(this.trees.healthy);
    this.starts = sides.map((side) => this.started(side));
  }

  // The tables of a side with the priors entered, and what these contribute beside.
  started(side) {
    const { factor, likelihoods } = side.translated(this.priors);
    const tables = side.tree.potentials.slice();
    return { side, tables, factor: factor * enterAll(side.tree, tables, likelihoods) };
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

  // The sum that a belief is, as [factor, likelihoods of each part].
  parts(findings, held) {
    const seen = findings.filter((one) => one.observation !== PROOF).map((one) => this.entered(one));
    const proofs = findings.filter((one) => one.observation === PROOF);
    const found = [];
    for (const passed of combinations(proofs.map(() => 2))) {
      let factor = 1;
      const likelihoods = [...held, ...seen];
      proofs.forEach((proof, k) => {
        const [fails, works] = this.proofLikelihoods(proof);
        factor *= passed[k] ? works - fails : fails;
        if (passed[k]) likelihoods.push(...this.working(proof.epoch));
      });
      if (factor !== 0) found.push([factor, likelihoods]);
    }
    return found;
  }

  // Natural log of P(findings, call | site), -Infinity where it cannot be.
  logProbability(findings, held = []) {
    const logs = this.parts(findings, held).flatMap(([factor, all]) =>
      this.starts.map(({ side, tables, factor: before }, k) => {
        const here = side.translated(all);
        const log = evidenceLog(side.tree, here.likelihoods, tables) + Math.log(here.factor * before);
        return { factor, healthy: k === 1, log };
      }),
    );
    return attempt(() => this.shares(logs.filter(({ log }) => log > -Infinity)).logProbability) ?? -Infinity;
  }

  // A belief as a sum of calibrated trees: the unit as it may be, and one without any fault at
  // first, as far as they are possible.
  calibrated(findings = this.findings, held = []) {
    const found = [];
    for (const [factor, all] of this.parts(findings, held)) {
      this.starts.forEach(({ side, tables, factor: before }, k) => {
        const here = side.translated(all);
        const beside = here.factor * before;
        const beliefs = beside > 0 ? attempt(() => calibrate(side.tree, here.likelihoods, tables)) : null;
        if (beliefs === null) return;
        const log = beliefs.logEvidence + Math.log(beside);
        found.push({ factor, healthy: k === 1, side, beliefs, log });
      });
    }
    const { shares, noFault, logProbability } = this.shares(found);
    const terms = found.map(({ side, beliefs }, k) => ({ side, beliefs, share: shares[k] }));
    return new Mixture(this, terms, noFault, logProbability);
  }

  // The share of each part of a sum, P(no fault at first) and the log of the sum. `found`: {factor,
  // healthy, log}. Throws EvidenceConflict where nothing is left.
  shares(found) {
    if (!found.length) throw new EvidenceConflict("these findings cannot hold together");
    const c = this.model.odds.call_without_fault;
    const top = Math.max(...found.map(({ log }) => log));
    let sound = 0;
    const values = found.map(({ factor, healthy, log }) => {
      const value = factor * Math.exp(log - top);
      if (healthy) sound += value;
      return healthy ? -(1 - c) * value : value;
    });
    const total = sum(values);
    if (total <= LEAST * Math.max(...values.map(Math.abs))) {
      throw new EvidenceConflict("these findings cannot hold together with a call");
    }
    const noFault = Math.min(Math.max((c * sound) / total, 0), 1);
    return { shares: values.map((one) => one / total), noFault, logProbability: top + Math.log(total) };
  }
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
    let out = null;
    for (const { share, ...term } of this.terms) {
      const values = of(term);
      out ??= new Float64Array(values.length);
      for (let k = 0; k < out.length; k++) out[k] += share * values[k];
    }
    for (let k = 0; k < out.length; k++) if (out[k] < 0) out[k] = 0;
    return out;
  }

  // For each fault, in order, P(present now).
  get faults() {
    const { model, trees } = this.ground;
    this.kept ??= this.sum(({ side, beliefs }) =>
      Float64Array.from(model.faults.keys(), (fault) => {
        const { states } = trees.paths.get(fault);
        let total = 0;
        side.spread(beliefs, fault).forEach((p, path) => {
          if (states[path][states[path].length - 1]) total += p;
        });
        return total;
      }),
    );
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
    const { ground } = this;
    this.working ??= this.against(ground.logProbability(ground.findings, ground.working(ground.last)));
    return this.working;
  }

  // A log probability as a chance given all that is known.
  against(log) {
    return Math.min(Math.exp(log - this.mixture.logProbability), 1);
  }

  // P of one more finding given all that is known, and the faults under it; it may replace one.
  under(finding, replaced) {
    const old = this.ground.findings.filter((one) => one !== replaced);
    const found = attempt(() => this.ground.calibrated([...old, finding]));
    if (found === null) return { chance: 0, faults: this.mixture.faults.map(() => 0) };
    return { chance: this.against(found.logProbability), faults: found.faults };
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
    if (name === PROOF && again) return this.joint(name).map((one) => one.chance);
    if (name === PROOF) {
      const { passes_if_works: right, passes_if_not: wrong } = this.model.about.proof;
      const passes = right * this.works + wrong * (1 - this.works);
      return [passes, 1 - passes];
    }
    const leaf = nodeName(name, newestCopy(this.ground.trees.newest, name, this.ground.last));
    return this.mixture.sum(({ beliefs }) =>
      again ? predictedAgain(beliefs, leaf, again.likelihood) : predicted(beliefs, leaf),
    );
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
      return this.under({ observation: name, epoch, copy, likelihood }, again);
    });
  }
}
