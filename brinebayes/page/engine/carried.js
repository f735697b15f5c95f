// Beliefs after more repairs than the trees can hold: rows carried forward; see `network.carried`.

const CARRIED_ROWS = 8000;
const EVEN = [0.35, 0.65];
const HARM = 0.05;

// A belief, exact where the trees can hold all repairs, else from rows.
function believe(model, question) {
  try {
    return new Belief(model, question);
  } catch (error) {
    if (!(error instanceof TooLarge) || !question.done.length) throw error;
    return new CarriedBelief(model, question);
  }
}

// As Belief, from weighted rows instead of exact trees.
class CarriedBelief {
  constructor(model, question) {
    this.model = model;
    this.newest = versionsOf(model, question.done);
    this.last = question.done.length;
    this.findings = latestFindings(saidAndSeen(model, question), this.newest);
    const ground = this.exactPart(question);
    const mixture = ground.calibrated();
    const rows = new CarriedRows(model, question.done, drawStates(ground, mixture, CARRIED_ROWS, 1n, false), ground.last);
    for (let epoch = ground.last + 1; epoch <= this.last; epoch++) {
      rows.repair(epoch);
      for (const one of this.findings) if (one.copy === epoch) rows.weigh(one);
    }
    if (!(sum(rows.weights) > 0)) {
      throw new EvidenceConflict("none of the rows drawn fits what was seen after the last repairs");
    }
    this.table = rows.worlds();
    this.predictions = new Map();
  }

  // The question up to the last repair that the trees can hold.
  exactPart({ site, done }) {
    let least = null;
    for (let count = done.length - 1; count >= 0; count--) {
      const seen = this.findings
        .filter((one) => one.copy <= count)
        .map(({ epoch, ...one }) => ({ ...one, epoch: Math.min(epoch, count) }));
      try {
        return new Ground(this.model, { site, complaints: [], done: done.slice(0, count), seen });
      } catch (error) {
        if (!(error instanceof TooLarge)) throw error;
        least = error;
      }
    }
    throw least;
  }

  get effectiveDraws() {
    return this.table.effectiveDraws;
  }

  get faults() {
    this.shares ??= new Map([...this.table.faults].map(([f, here]) => [f, dot(this.table.weights, here)]));
    return this.shares;
  }

  get works() {
    return dot(this.table.weights, this.table.works);
  }

  // About `n` of the rows, drawn by weight at even distances; equal weights, merged.
  worlds(n, seed) {
    const { weights, effectiveDraws } = this.table;
    const luck = new Chance(seed).random();
    let sofar = 0;
    const ends = weights.map((w) => (sofar += w));
    const kept = [];
    const counts = [];
    let at = 0;
    for (let k = 0; k < n; k++) {
      const aim = (k + luck) / n;
      while (at < ends.length - 1 && ends[at] / sofar < aim) at++;
      if (kept[kept.length - 1] === at) counts[counts.length - 1]++;
      else {
        kept.push(at);
        counts.push(1);
      }
    }
    const only = ({ site, noise, faults, mechanisms }) => ({
      count: kept.length,
      site: takenAll(site, kept),
      noise: takenAll(noise, kept),
      faults: takenAll(faults, kept),
      mechanisms: takenAll(mechanisms, kept),
    });
    return {
      ...only(this.table),
      works: taken(this.table.works, kept),
      weights: Float64Array.from(counts, (count) => count / n),
      effectiveDraws: Math.min(n, effectiveDraws),
      first: only(this.table.first),
    };
  }

  outcomes(name) {
    if (!this.predictions.has(name)) this.predictions.set(name, this.weighed(name).map(sum));
    return this.predictions.get(name);
  }

  // For each outcome {chance, faults}: how likely it is, and each fault under it.
  joint(name) {
    return this.weighed(name).map((weights) => {
      const chance = sum(weights);
      const faults = [...this.table.faults.values()].map((here) => dot(weights, here));
      return { chance, faults: faults.map((p) => (chance > 0 ? p / chance : 0)) };
    });
  }

  // P(row and next outcome), one array per outcome.
  weighed(name) {
    const { history } = outlineOf(this.model);
    const rows = history.has(name) ? this.table.first : this.table;
    const chances = outcomeChances(this.model, name, rows);
    const copy = newestCopy(this.newest, name, this.last);
    const again = this.findings.find((one) => one.observation === name && one.copy === copy);
    if (again) {
      // Answered already: the answer given, as far as it is known, is given again.
      for (let r = 0; r < rows.count; r++) {
        const given = chances.map((column, k) => column[r] * again.likelihood[k]);
        const total = sum(given);
        chances.forEach((column, k) => (column[r] = total > 0 ? given[k] / total : 0));
      }
    }
    return chances.map((column) => times(column, this.table.weights));
  }
}

// Rows on their way through the repairs.
class CarriedRows {
  constructor(model, done, drawn, last) {
    Object.assign(this, { model, done, drawn, chance: new Chance(1n, 2n) });
    this.weights = drawn.weights.slice();
    this.epochs = Array.from({ length: last + 1 }, (_, epoch) => drawn.present(epoch));
    this.luck = new Map();
    this.look();
  }

  look() {
    const { count, site, noise } = this.drawn;
    this.now = evaluate(this.model, { count, site, noise, faults: this.epochs[this.epochs.length - 1] });
  }

  // Draw what the repair that opens `epoch` brought about.
  repair(epoch) {
    const name = this.done[epoch - 1];
    const repair = this.model.repairs.get(name);
    const before = this.epochs[this.epochs.length - 1];
    const after = new Map();
    for (const [fault, column] of before) {
      const here = column.slice();
      if (repair.clears.has(fault)) {
        const success = this.success(name, fault, epoch, repair.clears.get(fault));
        for (let r = 0; r < here.length; r++) if (success[r]) here[r] = 0;
      }
      if (repair.harms.has(fault)) {
        const p = repair.harms.get(fault);
        const harm = this.happens(p, Math.max(p, HARM), null);
        for (let r = 0; r < here.length; r++) if (harm[r]) here[r] = 1;
      }
      after.set(fault, here);
    }
    this.epochs.push(after);
    this.look();
  }

  // Whether the repair succeeds, with the luck of earlier tries where it is shared.
  success(name, fault, epoch, p) {
    const present = this.epochs[this.epochs.length - 1].get(fault);
    const shared = this.model.repairs.get(name).same_luck;
    const none = new Uint8Array(present.length);
    const [told, luck] = shared ? this.told(name, fault, epoch, p) : [none, none];
    const even = p > 0 && p < 1 ? Math.min(Math.max(p, EVEN[0]), EVEN[1]) : p;
    const matters = present.map((here, r) => (here && !told[r] ? 1 : 0));
    const fresh = this.happens(p, even, matters);
    const success = fresh.map((won, r) => (told[r] ? luck[r] : won));
    if (shared) this.luck.set(`${name} ${fault}`, success);
    return success;
  }

  // Where an earlier try has told the luck of this one, and what it was.
  told(name, fault, epoch, p) {
    const count = this.weights.length;
    const known = this.luck.get(`${name} ${fault}`);
    if (known) return [new Uint8Array(count).fill(1), known];
    const harm = this.model.repairs.get(name).harms.get(fault) ?? 0;
    // Present after a try: it failed, or it did harm all the same.
    const spoiled = p * harm > 0 || p < 1 ? (p * harm) / (p * harm + 1 - p) : 0;
    const told = new Uint8Array(count);
    const luck = new Uint8Array(count);
    for (let earlier = 1; earlier < epoch; earlier++) {
      if (this.done[earlier - 1] !== name) continue;
      const before = this.epochs[earlier - 1].get(fault);
      const after = this.epochs[earlier].get(fault);
      for (let r = 0; r < count; r++) {
        const u = this.chance.random();
        if (before[r] && !told[r]) luck[r] = after[r] ? Number(u < spoiled) : 1;
        if (before[r]) told[r] = 1;
      }
    }
    return [told, luck];
  }

  // Draw an event of probability `p` with another one, weighted where it matters (null: always).
  happens(p, drawnWith, matters) {
    const out = new Uint8Array(this.weights.length);
    for (let r = 0; r < out.length; r++) {
      const here = matters === null || matters[r];
      out[r] = Number(this.chance.random() < (here ? drawnWith : p));
      if (p !== drawnWith && here) {
        this.weights[r] *= out[r] ? p / drawnWith : (1 - p) / (1 - drawnWith);
      }
    }
    return out;
  }

  // Weigh the rows by what was seen in the present epoch.
  weigh({ observation: name, likelihood }) {
    const { model, now } = this;
    const column = now.faults.get(name) ?? now.mechanisms.get(name);
    if (column || name === WORKS) {
      const states = column ?? worksIn(model, now);
      for (let r = 0; r < now.count; r++) this.weights[r] *= likelihood[states[r]];
      return;
    }
    const chances = outcomeChances(model, name, now);
    for (let r = 0; r < now.count; r++) {
      this.weights[r] *= sum(chances.map((outcome, k) => outcome[r] * likelihood[k]));
    }
  }

  // The rows as they are now.
  worlds() {
    const total = sum(this.weights);
    const weights = this.weights.map((w) => w / total);
    const { count, site, noise } = this.drawn;
    const first = evaluate(this.model, { count, site, noise, faults: this.epochs[0] });
    const works = worksIn(this.model, this.now);
    return { ...this.now, weights, works, first, effectiveDraws: 1 / dot(weights, weights) };
  }
}
