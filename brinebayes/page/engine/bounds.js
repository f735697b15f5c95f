// What it costs to end the visit from here: a bound from above and one from below; see
// `advice.bounds`. A belief is weights over the classes of the futures, not normalised.

class Bounds {
  // `stakes`: {right, wrong, secondVisit, escalation}; `fewest`: the least that any look costs.
  constructor(futures, prices, stakes, fewest) {
    Object.assign(this, { futures, prices, stakes, fewest, classes: -1 });
    this.grow();
  }

  // Tables over the classes there are now; harm that is looked at may bring more.
  grow() {
    const { futures } = this;
    if (this.classes === futures.classCount) return;
    const count = (this.classes = futures.classCount);
    const { sound } = futures;
    this.knownAt = new Map();
    this.left = new Float64Array(count);
    const moves = this.allMoves();
    const usable = futures.mendings.slice(0, futures.usable);
    this.keeps = Float64Array.from(usable, (one) => product(one.harms.map(([, chance]) => 1 - chance)));
    this.becomes = Int32Array.from(moves, (move) => move.after);
    this.chances = Float64Array.from(moves, (move) => move.chance);
    // A pair is a repair with a class that it changes; those of a repair, the moves of a pair, and
    // the pairs of a repair that can make their class sound lie one after another.
    const firsts = moves.flatMap(({ repair, before }, k) =>
      k && moves[k - 1].repair === repair && moves[k - 1].before === before ? [] : [k],
    );
    this.moveFrom = Int32Array.of(...firsts, moves.length);
    this.pairRepair = Int32Array.from(firsts, (k) => moves[k].repair);
    this.before = Int32Array.from(firsts, (k) => moves[k].before);
    this.gone = new Float64Array(firsts.length);
    this.works = new Float64Array(firsts.length);
    const [pairFrom, cureFrom, curing] = [[], [], []];
    for (let repair = 0, pair = 0; repair < usable.length; repair++) {
      pairFrom.push(pair);
      cureFrom.push(curing.length);
      for (; pair < firsts.length && this.pairRepair[pair] === repair; pair++) {
        for (let k = this.moveFrom[pair]; k < this.moveFrom[pair + 1]; k++) {
          this.gone[pair] += this.chances[k];
          if (this.becomes[k] === sound) this.works[pair] += this.chances[k];
        }
        if (this.works[pair] > 0) curing.push(pair);
      }
    }
    this.pairFrom = Int32Array.of(...pairFrom, firsts.length);
    this.cureFrom = Int32Array.of(...cureFrom, curing.length);
    this.cureClass = Int32Array.from(curing, (pair) => this.before[pair]);
    this.cureChance = Float64Array.from(curing, (pair) => this.works[pair]);
    this.later = this.knownLater();
    this.decisions = this.decided();
  }

  // How surely a repair leaves the unit of a belief working, weighted.
  mended(repair, belief) {
    const { cureFrom, cureClass, cureChance } = this;
    let total = belief[this.futures.sound];
    for (let k = cureFrom[repair]; k < cureFrom[repair + 1]; k++) total += cureChance[k] * belief[cureClass[k]];
    return total * this.keeps[repair];
  }

  // How much of a belief a repair changes.
  changed(repair, belief) {
    let total = 0;
    for (let k = this.pairFrom[repair]; k < this.pairFrom[repair + 1]; k++) total += belief[this.before[k]];
    return total;
  }

  // {repair, before, after, chance}, by repair, class before and after; harm left out.
  allMoves() {
    const { futures } = this;
    const byFault = new Map();
    futures.mendings.slice(0, futures.usable).forEach((one, place) => {
      for (const [fault] of one.clears) {
        if (!byFault.has(fault)) byFault.set(fault, []);
        byFault.get(fault).push(place);
      }
    });
    const steps = futures.steps();
    const moves = [];
    futures.relevant.forEach((relevant, number) => {
      for (const repair of unique(relevant.flatMap((fault) => byFault.get(fault) ?? []))) {
        if (futures.unluckyOf[number].includes(repair)) continue;
        const chances = new Map([[number, 1]]);
        for (const [fault, chance] of futures.mendings[repair].clears) {
          for (const [at, share] of [...chances]) {
            const after = steps[at].get(fault);
            if (after === undefined) continue;
            chances.set(at, chances.get(at) - share * chance);
            chances.set(after, (chances.get(after) ?? 0) + share * chance);
          }
        }
        chances.delete(number);
        for (const [after, chance] of chances) moves.push({ repair, before: number, after, chance });
      }
    });
    return moves.sort((a, b) => a.repair - b.repair || a.before - b.before || a.after - b.after);
  }

  // What each class calls for: the cheapest repair that mends it more likely than not.
  decided() {
    const { ownRepairs } = this.prices;
    const { sound } = this.futures;
    const best = new Int32Array(this.classes).fill(-1);
    ownRepairs.forEach((own, repair) => {
      for (let k = this.cureFrom[repair]; k < this.cureFrom[repair + 1]; k++) {
        const number = this.cureClass[k];
        if (number === sound || !(compared(this.cureChance[k] * this.keeps[repair]) > 0.5)) continue;
        if (best[number] < 0 || compared(own) < compared(ownRepairs[best[number]])) best[number] = repair;
      }
    });
    for (let c = 0; c < best.length; c++) if (best[c] < 0) best[c] = ownRepairs.length;
    best[sound] = ownRepairs.length + 1;
    return best;
  }

  // A belief over what the unit calls for.
  calls(belief) {
    const out = new Float64Array(this.prices.ownRepairs.length + 2);
    for (let c = 0; c < belief.length; c++) out[this.decisions[c]] += belief[c];
    return out;
  }

  // --- from below ------------------------------------------------------------------------------

  // What ending the visit from a setup costs when the class is known: [at the least, proven].
  known(setup) {
    if (!this.knownAt.has(setup)) {
      const legs = this.prices.legs(setup);
      const { secondVisit, wrong } = this.stakes;
      const stop = Math.min(legs.close + secondVisit, legs.passOn);
      const least = Math.min(legs.close, legs.passOn);
      const fewest = legs.proofAfter.map(() => this.fewest);
      const ways = [stop, least, legs.repairs, legs.closeAfter];
      this.knownAt.set(setup, [
        this.withRepairs(...ways, fewest, 0, this.later[0]),
        this.withRepairs(...ways, legs.proofAfter, wrong, this.later[1]),
      ]);
    }
    return this.knownAt.get(setup);
  }

  // The same from no matter where, the ways left out.
  knownLater() {
    const { secondVisit, escalation, wrong } = this.stakes;
    const stop = Math.min(secondVisit, escalation);
    const own = this.prices.ownRepairs;
    const none = new Float64Array(own.length);
    const looks = [
      [this.fewest, 0],
      [this.prices.ownProof, wrong],
    ];
    return looks.map(([look, missed]) => {
      let later = new Float64Array(this.classes).fill(stop);
      later[this.futures.sound] = 0;
      for (let turn = 0; turn < this.futures.model.search.turns; turn++) {
        const before = later;
        later = this.withRepairs(stop, 0, own, none, none.map(() => look), missed, before);
        if (later.every((cost, c) => cost === before[c])) break;
      }
      return later;
    });
  }

  // Stopping now, or the best repair first and then the cost `later`, for each class.
  withRepairs(stop, sound, price, close, look, missed, later) {
    const { secondVisit } = this.stakes;
    const { moveFrom, chances, becomes } = this;
    const best = new Float64Array(this.classes).fill(stop);
    for (let pair = 0; pair < this.before.length; pair++) {
      const repair = this.pairRepair[pair];
      const before = this.before[pair];
      const works = this.works[pair];
      const stays = 1 - this.gone[pair];
      let seen = 0;
      for (let k = moveFrom[pair]; k < moveFrom[pair + 1]; k++) seen += chances[k] * later[becomes[k]];
      seen += stays * (missed * secondVisit + (1 - missed) * later[before]);
      // Where the repair leads to another fault that is known, nobody looks in between.
      seen += (works + stays) * look[repair];
      const unseen = (1 - works) * secondVisit + close[repair];
      const tried = price[repair] + Math.min(seen, unseen);
      if (tried < best[before]) best[before] = tried;
    }
    best[this.futures.sound] = sound;
    return best;
  }

  // --- from above ------------------------------------------------------------------------------

  // What a plan without another check costs. `open`: repairs that may be made; `proof`: whether a
  // proof would say something new.
  above(belief, setup, open, proof) {
    const { prices, left, cureFrom, cureClass, cureChance } = this;
    const { right, wrong, secondVisit } = this.stakes;
    const { sound, never, model } = this.futures;
    left.set(belief);
    let total = weightOf(left);
    let paid = 0;
    let legs = prices.legs(setup);
    let best = this.stopped(total - left[sound], total, legs);
    if (proof) {
      const closing = prices.legs(legs.proofEnd);
      const failing = Math.max(total - left[sound], 0);
      const still = this.proofFails(left, failing);
      paid += total * legs.proof + failing * wrong * secondVisit + (total - still) * closing.close;
      total = still;
      best = Math.min(best, paid + this.stopped(total - left[sound], total, closing));
      legs = closing;
    }
    const used = new Uint8Array(open.length);
    for (let step = Math.min(model.search.steps, open.length); step > 0; step--) {
      let one = 0;
      let rate = -Infinity;
      for (let k = 0; k < open.length; k++) {
        const r = open[k] && !used[k] ? compared(this.mended(k, left) / legs.tries[k]) : 0;
        if (r > rate) {
          one = k;
          rate = r;
        }
      }
      // Where nothing helps any more the sequence ends.
      paid += total * (rate > 0 ? legs.repairs[one] : FAR);
      const kept = this.keeps[one];
      let cured = 0;
      for (let k = cureFrom[one]; k < cureFrom[one + 1]; k++) {
        const part = left[cureClass[k]] * cureChance[k];
        left[cureClass[k]] -= part;
        cured += part;
      }
      left[sound] += cured;
      if (kept < 1) {
        for (let c = 0; c < left.length; c++) left[c] *= kept;
        left[never] += total * (1 - kept);
      }
      const failing = Math.max(total - left[sound], 0);
      best = Math.min(best, paid + total * legs.closeAfter[one] + failing * secondVisit);
      const after = prices.legs(prices.legs(legs.repairsEnd[one]).proofEnd);
      const still = this.proofFails(left, failing);
      paid += total * legs.proofAfter[one] + failing * wrong * secondVisit + (total - still) * after.close;
      total = still;
      best = Math.min(best, paid + this.stopped(total - left[sound], total, after));
      used[one] = 1;
      legs = after;
    }
    return best;
  }

  // What a proof now costs where it passes included, and the belief, total and setup where not.
  proved(belief, setup) {
    const { wrong, secondVisit } = this.stakes;
    const legs = this.prices.legs(setup);
    const after = this.prices.legs(legs.proofEnd);
    const total = weightOf(belief);
    const failing = Math.max(total - belief[this.futures.sound], 0);
    const failed = belief.slice();
    const still = this.proofFails(failed, failing);
    const paid = total * legs.proof + failing * wrong * secondVisit + (total - still) * after.close;
    return { paid, failed, still, end: legs.proofEnd };
  }

  // Finishing or passing on, whichever costs less.
  stopped(failing, total, legs) {
    return Math.min(total * legs.close + failing * this.stakes.secondVisit, total * legs.passOn);
  }

  // Makes a belief one after a proof that failed; its total. `failing`: what of it does not work.
  proofFails(belief, failing) {
    const { right, wrong } = this.stakes;
    const { sound } = this.futures;
    const works = belief[sound] * (1 - right);
    for (let c = 0; c < belief.length; c++) belief[c] *= 1 - wrong;
    belief[sound] = works;
    return failing * (1 - wrong) + works;
  }

  // A belief after a repair; a unit that it harmed counts as past mending.
  repaired(belief, repair) {
    const { moveFrom, becomes, chances, before } = this;
    const out = belief.slice();
    for (let pair = this.pairFrom[repair]; pair < this.pairFrom[repair + 1]; pair++) {
      const here = belief[before[pair]];
      out[before[pair]] -= here * this.gone[pair];
      for (let k = moveFrom[pair]; k < moveFrom[pair + 1]; k++) out[becomes[k]] += here * chances[k];
    }
    const kept = this.keeps[repair];
    if (kept < 1) {
      const lost = weightOf(out) * (1 - kept);
      for (let c = 0; c < out.length; c++) out[c] *= kept;
      out[this.futures.never] += lost;
    }
    return out;
  }
}
