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
    this.moves = this.allMoves();
    this.keeps = futures.mendings.map((one) => product(one.harms.map(([, chance]) => 1 - chance)));
    // Of each repair: how surely it makes a class sound, for the classes that it changes.
    this.cures = futures.mendings.map(() => new Float64Array(count));
    this.changes = futures.mendings.map(() => []);
    for (const { repair, before, after, chance } of this.moves) {
      if (after === sound) this.cures[repair][before] += chance;
      const changed = this.changes[repair];
      if (changed[changed.length - 1] !== before) changed.push(before);
    }
    this.curing = this.cures.map((cures) => [...cures.keys()].filter((c) => cures[c] > 0));
    // A pair is a repair with a class that it changes.
    this.pairs = [];
    for (const move of this.moves) {
      let last = this.pairs[this.pairs.length - 1];
      if (!last || last.repair !== move.repair || last.before !== move.before) {
        last = { repair: move.repair, before: move.before, moves: [], works: 0, gone: 0 };
        this.pairs.push(last);
      }
      last.moves.push(move);
      last.gone += move.chance;
      if (move.after === sound) last.works += move.chance;
    }
    this.later = this.knownLater();
    this.decisions = this.decided();
  }

  mends(repair, number) {
    const sure = (number === this.futures.sound ? 1 : 0) + this.cures[repair][number];
    return sure * this.keeps[repair];
  }

  // How surely a repair leaves the unit of a belief working, weighted.
  mended(repair, belief) {
    let total = belief[this.futures.sound];
    for (const c of this.curing[repair]) total += this.cures[repair][c] * belief[c];
    return total * this.keeps[repair];
  }

  // {repair, before, after, chance}, by repair, class before and after; harm left out.
  allMoves() {
    const { futures } = this;
    const byFault = new Map();
    futures.mendings.forEach((one, place) => {
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
            const after = steps.get(`${at} ${fault}`);
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
    return Int32Array.from({ length: this.classes }, (_, number) => {
      if (number === this.futures.sound) return ownRepairs.length + 1;
      let best = -1;
      ownRepairs.forEach((price, k) => {
        if (!(compared(this.mends(k, number)) > 0.5)) return;
        if (best < 0 || compared(price) < compared(ownRepairs[best])) best = k;
      });
      return best < 0 ? ownRepairs.length : best;
    });
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
    const best = new Float64Array(this.classes).fill(stop);
    for (const { repair, before, moves, works, gone } of this.pairs) {
      const stays = 1 - gone;
      const again = missed * secondVisit + (1 - missed) * later[before];
      let seen = 0;
      for (const move of moves) seen += move.chance * later[move.after];
      seen += stays * again;
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
    const { prices, stakes, futures } = this;
    let left = belief;
    let total = sum(left);
    let paid = 0;
    let legs = prices.legs(setup);
    let best = this.stopped(left, total, legs);
    if (proof) {
      const closing = prices.legs(legs.proofEnd);
      [paid, left, total] = this.failedProof(0, left, total, legs.proof, closing);
      best = Math.min(best, paid + this.stopped(left, total, closing));
      legs = closing;
    }
    const used = new Set();
    for (let step = 0; step < Math.min(futures.model.search.steps, open.length); step++) {
      let one = 0;
      let rate = -Infinity;
      for (let k = 0; k < open.length; k++) {
        const here = open[k] && !used.has(k);
        const r = here ? compared(this.mended(k, left) / (legs.repairs[k] + legs.proofAfter[k])) : 0;
        if (r > rate) [one, rate] = [k, r];
      }
      // Where nothing helps any more the sequence ends.
      paid += total * (rate > 0 ? legs.repairs[one] : FAR);
      const kept = this.keeps[one];
      let cured = 0;
      const moved = left;
      left = left.slice();
      for (const c of this.curing[one]) {
        const part = moved[c] * this.cures[one][c];
        left[c] -= part;
        cured += part;
      }
      for (let c = 0; c < left.length; c++) left[c] *= kept;
      left[futures.sound] += cured * kept;
      left[futures.never] += total * (1 - kept);
      const failing = Math.max(total - left[futures.sound], 0);
      best = Math.min(best, paid + total * legs.closeAfter[one] + failing * stakes.secondVisit);
      const after = prices.legs(prices.legs(legs.repairsEnd[one]).proofEnd);
      [paid, left, total] = this.failedProof(paid, left, total, legs.proofAfter[one], after);
      best = Math.min(best, paid + this.stopped(left, total, after));
      used.add(one);
      legs = after;
    }
    return best;
  }

  // What a proof now costs where it passes included, and the belief, total and setup where not.
  proved(belief, setup) {
    const legs = this.prices.legs(setup);
    const after = this.prices.legs(legs.proofEnd);
    const [paid, failed, still] = this.failedProof(0, belief, sum(belief), legs.proof, after);
    return { paid, failed, still, end: legs.proofEnd };
  }

  // Finishing or passing on, whichever costs less.
  stopped(left, total, legs) {
    const failing = total - left[this.futures.sound];
    return Math.min(total * legs.close + failing * this.stakes.secondVisit, total * legs.passOn);
  }

  // Paid so far, and the belief and total where the proof failed; where it passes the visit ends.
  failedProof(paid, left, total, way, after) {
    const { right, wrong, secondVisit } = this.stakes;
    const { sound } = this.futures;
    const failing = Math.max(total - left[sound], 0);
    const failed = left.map((w, c) => w * (c === sound ? 1 - right : 1 - wrong));
    const still = sum(failed);
    const missed = failing * wrong * secondVisit;
    return [paid + total * way + missed + (total - still) * after.close, failed, still];
  }

  // A belief after a repair; a unit that it harmed counts as past mending.
  repaired(belief, repair) {
    const out = belief.slice();
    for (const pair of this.pairsOf(repair)) {
      out[pair.before] *= 1 - pair.gone;
    }
    for (const pair of this.pairsOf(repair)) {
      for (const move of pair.moves) out[move.after] += belief[move.before] * move.chance;
    }
    const kept = this.keeps[repair];
    if (kept < 1) {
      const lost = sum(out) * (1 - kept);
      for (let c = 0; c < out.length; c++) out[c] *= kept;
      out[this.futures.never] += lost;
    }
    return out;
  }

  pairsOf(repair) {
    if (this.pairsAt !== this.pairs) {
      this.pairsAt = this.pairs;
      this.byRepair = this.futures.mendings.map(() => []);
      for (const pair of this.pairs) this.byRepair[pair.repair].push(pair);
    }
    return this.byRepair[repair];
  }
}
