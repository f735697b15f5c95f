// What the unit of each row can become through repairs, and what it then shows; see
// `advice.futures`. A future is a number: layer * size + place; the first places are the rows.

class Futures {
  // `worlds`: rows; `mendings`: {clears, harms: [[fault, chance]], stuck: Uint8Array or null}, the
  // first `usable` of them may still be made. `together`: so many faults of one row may be cleared
  // each without the others.
  constructor(model, worlds, mendings, usable, together) {
    Object.assign(this, { model, worlds, mendings, usable, rows: worlds.count });
    const clears = new Set(mendings.flatMap((one) => one.clears.map(([fault]) => fault)));
    this.clearable = [...model.faults.keys()].filter((fault) => clears.has(fault));
    this.unlucky = mendings.map((one, k) => k).filter((k) => mendings[k].stuck !== null);
    this.order = new Map([...model.faults.keys()].map((fault, k) => [fault, k]));
    this.bit = new Map(this.clearable.map((fault) => [fault, new Int8Array(this.rows).fill(-1)]));
    this.own = Array.from({ length: this.rows }, () => []); // clearable faults, by their bit
    this.clearable.forEach((fault) => {
      const here = worlds.faults.get(fault);
      const bit = this.bit.get(fault);
      for (let r = 0; r < this.rows; r++) {
        if (!here[r] || this.own[r].length >= together) continue;
        bit[r] = this.own[r].length;
        this.own[r].push(fault);
      }
    });
    this.offset = new Int32Array(this.rows);
    let size = this.rows;
    for (let r = 0; r < this.rows; r++) {
      this.offset[r] = size;
      size += (1 << this.own[r].length) - 1;
    }
    this.size = size;
    this.row = new Int32Array(size);
    this.gone = new Int32Array(size); // which of the row's own faults are cleared, as bits
    for (let r = 0; r < this.rows; r++) {
      this.row[r] = r;
      for (let mask = 1; mask < 1 << this.own[r].length; mask++) {
        this.row[this.offset[r] + mask - 1] = r;
        this.gone[this.offset[r] + mask - 1] = mask;
      }
    }
    this.site = takenAll(worlds.site, this.row);
    this.noise = takenAll(worlds.noise, this.row);
    const faults = takenAll(worlds.faults, this.row);
    for (const fault of this.clearable) {
      const bit = this.bit.get(fault);
      const column = faults.get(fault);
      for (let f = 0; f < size; f++) {
        const b = bit[this.row[f]];
        if (b >= 0 && (this.gone[f] >> b) & 1) column[f] = 0;
      }
    }
    this.layers = [{ harmed: [], ...this.evaluated(faults), classes: null }];
    this.known = new Map();
    this.found = new Map();
    this.sample = [];
    this.relevant = [];
    this.unluckyOf = [];
    this.never = this.classOf([], "no", -1);
    this.sound = this.classOf([], "yes", -1);
    this.layers[0].classes = this.classified();
  }

  evaluated(faults) {
    const all = { count: this.size, site: this.site, noise: this.noise, faults };
    evaluate(this.model, all);
    return { faults, mechanisms: all.mechanisms, works: worksIn(this.model, all) };
  }

  get classCount() {
    return this.sample.length;
  }

  class(future) {
    return this.layers[Math.floor(future / this.size)].classes[future % this.size];
  }

  // --- from one future to the next -------------------------------------------------------------

  native(inside, fault) {
    const bit = this.bit.get(fault);
    const b = bit ? bit[this.row[inside]] : -1;
    return b >= 0 && !((this.gone[inside] >> b) & 1) ? b : -1;
  }

  // The future without a fault, or -1 where it cannot be cleared.
  cleared(future, fault) {
    const layer = Math.floor(future / this.size);
    const inside = future % this.size;
    const b = this.native(inside, fault);
    if (b >= 0) {
      const from = inside < this.rows ? this.offset[this.row[inside]] - 1 : inside;
      return layer * this.size + from + (1 << b);
    }
    const { harmed } = this.layers[layer];
    if (!harmed.includes(fault)) return -1;
    return this.layerOf(harmed.filter((name) => name !== fault)) * this.size + inside;
  }

  layerOf(harmed) {
    const key = harmed.join();
    return this.layers.findIndex((one) => one.harmed.join() === key);
  }

  // The future with a fault that a repair brought about, or -1 where it is there already.
  broken(future, fault, into) {
    const layer = Math.floor(future / this.size);
    const inside = future % this.size;
    if (this.layers[layer].faults.get(fault)[inside]) return -1;
    const row = this.row[inside];
    const bit = this.bit.get(fault);
    const b = bit ? bit[row] : -1;
    if (b < 0) return into[layer] * this.size + inside;
    const back = this.gone[inside] - (1 << b);
    return layer * this.size + (back > 0 ? this.offset[row] + back - 1 : row);
  }

  // The layer in which a fault was brought about as well; made if it does not exist.
  withHarm(place, fault) {
    const { harmed } = this.layers[place];
    if (harmed.includes(fault)) return place;
    const wanted = [...harmed, fault].sort((a, b) => this.order.get(a) - this.order.get(b));
    if (this.layerOf(wanted) < 0) {
      for (const name of wanted) {
        const rest = wanted.filter((other) => other !== name);
        if (this.layerOf(rest) >= 0) continue;
        const last = rest[rest.length - 1];
        this.withHarm(this.layerOf(rest.slice(0, -1)), last);
      }
      this.grow(wanted);
    }
    return this.layerOf(wanted);
  }

  grow(harmed) {
    const faults = new Map(this.layers[0].faults);
    for (const fault of harmed) faults.set(fault, new Uint8Array(this.size).fill(1));
    const layer = { harmed, ...this.evaluated(faults), classes: null };
    this.layers.push(layer);
    layer.classes = this.harmedClasses(layer, this.layers.length - 1);
  }

  // Where a repair leads from some futures: {futures, start, end, chances}. `again`: whether bad luck
  // counts.
  repaired(repair, futures, again = true) {
    const one = this.mendings[repair];
    let start = Array.from(futures, (_, k) => k);
    let at = Array.from(futures);
    let chances = at.map(() => 1);
    const split = (after, chance) => {
      const [s, a, c, more] = [[], [], [], []];
      for (let k = 0; k < at.length; k++) {
        const moved = after[k] < 0 ? 0 : chances[k] * chance(k);
        const left = chances[k] - moved;
        if (left > 0) {
          s.push(start[k]);
          a.push(at[k]);
          c.push(left);
        }
        if (moved > 0) more.push([start[k], after[k], moved]);
      }
      for (const [from, to, moved] of more) {
        s.push(from);
        a.push(to);
        c.push(moved);
      }
      [start, at, chances] = [s, a, c];
    };
    for (const [fault, chance] of one.clears) {
      const after = at.map((future) => this.cleared(future, fault));
      if (after.every((future) => future < 0)) continue;
      const lost = (k) =>
        again &&
        one.stuck !== null &&
        one.stuck[this.row[at[k] % this.size]] &&
        this.native(at[k] % this.size, fault) >= 0;
      split(after, (k) => (lost(k) ? 0 : chance));
    }
    for (const [fault, chance] of one.harms) {
      const into = this.layers.map((_, place) => this.withHarm(place, fault));
      split(at.map((future) => this.broken(future, fault, into)), () => chance);
    }
    const order = at.map((_, k) => k).sort((a, b) => at[a] - at[b] || a - b);
    const reached = [];
    const end = order.map((k) => {
      if (reached[reached.length - 1] !== at[k]) reached.push(at[k]);
      return reached.length - 1;
    });
    return { futures: reached, start: order.map((k) => start[k]), end, chances: order.map((k) => chances[k]) };
  }

  // --- what a future shows ---------------------------------------------------------------------

  // P(outcome | future) of an observation or the proof: one Float64Array per outcome.
  likelihoods(name, futures) {
    const { model, size } = this;
    if (name === PROOF) {
      const { passes_if_works: right, passes_if_not: wrong } = model.about.proof;
      const works = this.columns(WORKS, false);
      const passes = new Float64Array(futures.length);
      for (let k = 0; k < passes.length; k++) {
        const layer = Math.floor(futures[k] / size);
        passes[k] = works[layer][futures[k] - layer * size] ? right : wrong;
      }
      return [passes, passes.map((p) => 1 - p)];
    }
    model.shows ??= new Map();
    if (!model.shows.has(name)) model.shows.set(name, observationTable(model, name));
    const { parents, outcomes, rows } = model.shows.get(name);
    const { history, states } = outlineOf(model);
    const place = new Int32Array(futures.length);
    for (const parent of parents) {
      const count = states.get(parent).length;
      const columns = this.columns(parent, history.has(name));
      for (let k = 0; k < place.length; k++) {
        const layer = Math.floor(futures[k] / size);
        place[k] = place[k] * count + columns[layer][futures[k] - layer * size];
      }
    }
    return outcomes.map((_, o) => chancesAt(Float64Array.from(rows, (row) => row[o]), place));
  }

  // For each layer the states of a parent, or whether the unit works.
  columns(name, past) {
    const same = this.site.get(name) ?? (past ? this.past(name) : null);
    if (same) return this.layers.map(() => same);
    if (name === WORKS) return this.layers.map((one) => one.works);
    return this.layers.map((one) => one.faults.get(name) ?? one.mechanisms.get(name));
  }

  // The states of a fault or mechanism as the unit was found.
  past(name) {
    if (!this.found.has(name)) {
      const { first } = this.worlds;
      this.found.set(name, taken(first.faults.get(name) ?? first.mechanisms.get(name), this.row));
    }
    return this.found.get(name);
  }

  // --- classes ---------------------------------------------------------------------------------

  // Of each class: relevant fault -> the class that it becomes when that one is cleared.
  steps() {
    return this.relevant.map(
      (faults, number) => new Map(faults.map((fault) => [fault, this.class(this.cleared(this.sample[number], fault))])),
    );
  }

  classOf(relevant, pattern, sample, harmed = false) {
    const unlucky = this.unlucky.filter(
      (place) =>
        !harmed &&
        this.mendings[place].clears.some(([fault]) => relevant.includes(fault)) &&
        this.mendings[place].stuck[this.row[sample % this.size]],
    );
    const key = `${relevant.join()} ${pattern} ${unlucky.join()}`;
    if (!this.known.has(key)) {
      this.known.set(key, this.sample.length);
      this.sample.push(sample);
      this.relevant.push(relevant);
      this.unluckyOf.push(unlucky);
    }
    return this.known.get(key);
  }

  classified() {
    const { works } = this.layers[0];
    const classes = new Int32Array(this.size);
    for (let r = 0; r < this.rows; r++) {
      const own = this.own[r];
      const all = (1 << own.length) - 1;
      const at = (mask) => (mask ? this.offset[r] + mask - 1 : r);
      for (let mask = 0; mask <= all; mask++) {
        const matters = [];
        own.forEach((fault, b) => {
          if (!((mask >> b) & 1) && this.decides(r, mask, b)) matters.push(b);
        });
        const future = at(mask);
        if (!matters.length) {
          classes[future] = works[future] ? this.sound : this.never;
          continue;
        }
        const kept = [mask];
        for (const b of matters) for (const one of [...kept]) kept.push(one | (1 << b));
        const pattern = kept.map((one) => works[at(one)]).join("");
        classes[future] = this.classOf(matters.map((b) => own[b]), pattern, future);
      }
    }
    return classes;
  }

  // Whether clearing one more of a row's own faults can make the unit work, or stop it, once those
  // of a mask are cleared.
  decides(row, mask, b) {
    const { works } = this.layers[0];
    const from = this.offset[row] - 1;
    for (let one = mask; one < 1 << this.own[row].length; one++) {
      if ((one & mask) !== mask || (one >> b) & 1) continue;
      const without = one ? works[from + one] : works[row];
      if (without !== works[from + (one | (1 << b))]) return true;
    }
    return false;
  }

  // Sound, past mending, or a class of one fault that a repair brought about.
  harmedClasses(layer, place) {
    const { harmed, works } = layer;
    const classes = Int32Array.from(works, (fine) => (fine ? this.sound : this.never));
    for (const fault of harmed) {
      const rest = this.layers[this.layerOf(harmed.filter((name) => name !== fault))].works;
      const cured = [];
      for (let f = 0; f < this.size; f++) if (rest[f] && !works[f]) cured.push(f);
      if (!this.bit.has(fault) || !cured.length) continue;
      const number = this.classOf([fault], "01", place * this.size + cured[0], true);
      for (const f of cured) classes[f] = number;
    }
    return classes;
  }
}
