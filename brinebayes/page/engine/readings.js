// A number with its unit, read as an observation; see `readings`. Constants of physics that do not
// depend on the reading come with the model (`model.physics`).

const CLEAR = 0.8;
const LEAST_RATIO = 1e-3;
const WORTH_TELLING = 0.05;

// --- what was written --------------------------------------------------------------------------

// Instrument -> the word that may follow the number, and whether it must.
const LINKS = {
  level_drop: ["in", true],
  level: ["after", false],
  hydrometer: ["after", false],
  conductivity: ["after", false],
  meter_count: ["of", false],
};
const SIGNED = ["level_drop", "vacuum_gauge"];

// {value, unit, written, seconds, drawn}: value in SI; the last two as told, else null.
function takeReading(model, kind, text) {
  const match = /^([\s\S]*\S)\s+(in|after|of)\s+([-+]?[\d.][\s\S]*)$/.exec(text.trim());
  const [head, link, tail] = match ? match.slice(1) : [text.trim(), "", ""];
  const units = model.instruments.get(kind);
  const signed = SIGNED.includes(kind);
  let quantity = null;
  if (units.length > 1) {
    const named = /[^\d\s.,+-]/.test(head);
    quantity = named ? parseQuantity(model, head, null, signed) : null;
    if (!quantity || !units.includes(quantity.unit.dimension)) {
      const listed = units.map((one) => symbolsOf(model, one)).join("; ");
      throw new UsageError(`"${head}": write a number with one of these units: ${listed}`);
    }
  } else quantity = parseQuantity(model, head, units[0], signed);
  const bucket = kind === "timed_bucket" && quantity.unit.dimension === "volume";
  const [allowed, demanded] = bucket ? ["in", true] : (LINKS[kind] ?? ["", false]);
  if (demanded && link !== allowed) {
    throw new UsageError(`"${text.trim()}": say in what time, as in ${head} in 10 min`);
  }
  if (link && link !== allowed) {
    throw new UsageError(`"${text.trim()}": write only the number and its unit, ${head}`);
  }
  const plain = `${Number(quantity.number.toPrecision(6))} ${quantity.unit.symbol}`;
  if (link === "of") {
    const drawn = parseQuantity(model, tail, "volume").value;
    if (!(drawn > 0)) throw new UsageError(`"${tail}": what was drawn must be above zero`);
    const written = `${plain} of ${tail}`;
    return { value: quantity.value, unit: quantity.unit, written, seconds: null, drawn };
  }
  let seconds = null;
  if (link) {
    seconds = parseQuantity(model, tail, "time").value;
    if (!(seconds > 0)) throw new UsageError(`"${text.trim()}": the time must be above zero`);
  }
  return turned(model, kind, quantity, seconds, plain);
}

function turned(model, kind, quantity, seconds, plain) {
  const minutes = seconds === null ? "" : Number((seconds / 60).toPrecision(6));
  const after = seconds === null ? plain : `${plain} after ${minutes} min`;
  const taken = { value: quantity.value, unit: quantity.unit, written: after, seconds, drawn: null };
  const salt = (value) => ({ ...taken, value, unit: unitNamed(model, "wt%") });
  switch (kind) {
    case "timed_bucket": {
      if (seconds === null) return taken;
      const metric = ["L", "cm", "m"].includes(quantity.unit.symbol);
      const written = `${plain} in ${Number(seconds.toPrecision(6))} s`;
      const unit = unitNamed(model, metric ? "L/min" : "gpm");
      return { ...taken, value: quantity.value / seconds, unit, written, seconds: null };
    }
    case "hydrometer":
      if (quantity.unit.dimension !== "density") return salt(quantity.value);
      return salt(strengthOfDensity(model, quantity));
    case "conductivity":
      return salt(strengthOfConductivity(model, quantity));
    case "level_drop":
      return { ...taken, written: `${plain} in ${minutes} min` };
    default:
      return taken;
  }
}

// The x between low and high where a rising f is 0, to the last bits.
function rootOf(f, low, high) {
  for (let k = 0; k < 200; k++) {
    const middle = 0.5 * (low + high);
    if (middle <= low || middle >= high) break;
    if (f(middle) > 0) high = middle;
    else low = middle;
  }
  return low;
}

// Density of brine in kg/m3. Source: Laliberté & Cooper 2004, coefficients of Laliberté 2009.
function brineDensity(model, w) {
  const { temperature_c: t, water_kg_m3: water } = model.physics;
  let apparent = (-0.00324112223655149 * w + 0.0636354335906616) * Math.exp(1e-6 * (t + 3317.34854426537) ** 2);
  apparent /= w + 1.01371399467365 + 0.0145951015210159 * t;
  return 1 / ((1 - w) / water + w / apparent);
}

function strengthOfDensity(model, { value, unit }) {
  const fits = brineDensity(model, -0.02) < value && value < brineDensity(model, 0.27);
  if (!fits) throw new UsageError(`${shown(unit, value)} is no brine; water is 1 and saturated brine 1.2`);
  return rootOf((w) => brineDensity(model, w) - value, -0.02, 0.27);
}

function brineConductivity(model, fraction) {
  let [w0, k0] = [0, model.physics.limiting_conductivity];
  for (const [w1, kappa] of model.physics.conductivity) {
    const k1 = kappa / w1;
    if (fraction <= w1) {
      const part = (Math.sqrt(fraction) - Math.sqrt(w0)) / (Math.sqrt(w1) - Math.sqrt(w0));
      return fraction * (k0 + part * (k1 - k0));
    }
    [w0, k0] = [w1, k1];
  }
  return Infinity;
}

function strengthOfConductivity(model, { value, unit }) {
  const most = brineConductivity(model, 0.25);
  if (!(value >= 0 && value <= most)) {
    throw new UsageError(`${shown(unit, value)} is more than brine of 25 wt% conducts`);
  }
  return rootOf((w) => brineConductivity(model, w) - value, 0, 0.25);
}

// --- what is known of the site -----------------------------------------------------------------

// {value (SI), sigma, told} of a measure as it was told; throws UsageError for what cannot be.
function tellMeasure(model, name, measure, text) {
  if (measure.words.size) {
    const word = measure.words.get(text.trim());
    if (!word) throw new UsageError(`${name}: "${text}" is none of its words`);
    return { value: word.value, sigma: Math.log(word.factor), told: true };
  }
  const unit = unitNamed(model, measure.unit);
  const { least, greatest } = measure;
  const quantity = parseQuantity(model, text, unit.dimension, least < 0);
  const slack = 1e-9 * Math.max(Math.abs(least), Math.abs(greatest));
  const number = fromSi(unit, quantity.value);
  if (!(least - slack <= number && number <= greatest + slack)) {
    const range = `${shortNumber(least)} and ${shown(unit, toSi(unit, greatest))}`;
    throw new UsageError(`${name}: "${text.trim()}" is not between ${range}; look again`);
  }
  return { value: quantity.value, sigma: Math.log(measure.told), told: true };
}

// Each of some measures as it was told, or as sites usually are: a Map.
function knownMeasures(model, names, told) {
  const found = new Map();
  for (const name of names) {
    const measure = model.measures.get(name);
    if (!measure) continue;
    if (told.has(name)) found.set(name, tellMeasure(model, name, measure, told.get(name)));
    else if (name === "resin_volume" && told.has("tank_diameter")) {
      const tank = tellMeasure(model, "tank_diameter", model.measures.get("tank_diameter"), told.get("tank_diameter"));
      const sigma = Math.log(model.physics.usual_resin_factor);
      found.set(name, { value: usualResin(model, tank.value), sigma, told: false });
    } else if (measure.words.size) {
      const words = [...measure.words.values()].map((w) => [w.share, Math.log(w.value), Math.log(w.factor)]);
      const mean = sum(words.map(([share, log]) => share * log));
      const squares = sum(words.map(([share, log, sigma]) => share * (log ** 2 + sigma ** 2)));
      const sigma = Math.sqrt(Math.max(squares - mean ** 2, 0));
      found.set(name, { value: Math.exp(mean), sigma, told: false });
    } else if (measure.middle !== null && measure.factor !== null) {
      const value = toSi(unitNamed(model, measure.unit), measure.middle);
      found.set(name, { value, sigma: Math.log(measure.factor), told: false });
    }
  }
  return found;
}

function usualResin(model, tank) {
  const sizes = model.physics.usual_resin;
  const [small, large] = [sizes[0], sizes[sizes.length - 1]];
  if (tank <= small[0]) return small[1] * (tank / small[0]) ** 2;
  for (let k = 1; k < sizes.length; k++) {
    const [[x0, y0], [x1, y1]] = [sizes[k - 1], sizes[k]];
    if (tank <= x1) return y0 + ((y1 - y0) * (tank - x0)) / (x1 - x0);
  }
  return large[1] * (tank / large[0]) ** 2;
}

// --- what a sound unit should show -------------------------------------------------------------

const circle = (diameter) => (Math.PI / 4) * diameter ** 2;

// What a reading amounts to and what is expected: {quantity, expected, unit, own}.
function comparedWith(model, compare, unit, value, seconds, v) {
  const { physics } = model;
  const owned = (figure, computed) =>
    v.has(figure) ? [v.get(figure), true] : [computed(), false];
  const brining = () => physics.brining_rate * v.get("resin_volume");
  const told = (name) => ({ quantity: value, expected: v.get(name), unit, own: true });
  const fixed = (expected) => ({ quantity: value, expected, unit, own: true });
  const flowUnit = unitNamed(model, model.metric.includes(unit.symbol) ? "L/min" : "gpm");
  const backwash = () => owned("backwash_figure", () => physics.backwash_m_s * circle(v.get("tank_diameter")));
  const perHeight = () => v.get("level_zone") * circle(v.get("brine_tank_diameter"));
  switch (compare) {
    case "unit":
      return fixed(unit.scale);
    case "backwash": {
      const [expected, own] = backwash();
      return { quantity: value, expected, unit: flowUnit, own };
    }
    case "brine_step": {
      const [expected, own] = owned("brine_step_figure", () => {
        const inlet = Math.max(v.get("inlet_pressure"), physics.least_inlet_pa);
        return brining() * Math.sqrt(inlet / physics.brining_inlet_pa);
      });
      return { quantity: value, expected, unit: flowUnit, own };
    }
    case "brine_fall": {
      const [draw, own] = owned("brine_draw_figure", () => physics.brine_part * brining());
      return { quantity: value, expected: (draw * seconds) / perHeight(), unit, own };
    }
    case "standing_brine": {
      const volume = (v.get("resin_volume") * v.get("salt_dose")) / physics.salt_per_brine;
      return { quantity: value, expected: volume / perHeight(), unit, own: false };
    }
    case "refill":
      return told("refill_figure");
    case "raw_hardness":
    case "inlet_pressure":
    case "control_voltage":
    case "drawn_water":
      return told(compare);
    case "saturated_brine":
      return fixed(physics.saturated);
    case "brined_bed":
      return fixed(physics.brined_bed);
    case "full_suction":
      return fixed(physics.atmosphere_pa - physics.vapour_pa);
    case "drain_run":
      return drainRun(model, value, backwash()[0], v);
    default:
      throw new UsageError(`nothing is known of comparing with ${compare}`);
  }
}

// Part of the inlet pressure that a drain line takes, as a multiple of the limit.
function drainRun(model, length, flow, v) {
  const { physics } = model;
  const bore = v.get("drain_bore");
  const speed = flow / circle(bore);
  const { water_kg_m3: density, water_pa_s: viscosity } = physics;
  let friction = 0;
  if (flow !== 0) {
    const re = (density * Math.abs(speed) * bore) / viscosity;
    const factor = frictionFactor(re, physics.smooth_m / bore);
    friction = (((factor * length) / bore) * density * speed * Math.abs(speed)) / 2;
  }
  const lift = density * physics.gravity * v.get("drain_rise");
  let load = Math.max((friction + lift) / v.get("inlet_pressure") / physics.run_share, 0);
  if (bore < physics.half_inch_m) load = Math.max(load, length / physics.half_inch_limit_m);
  return { quantity: load, expected: 1, unit: null, own: true };
}

// Source: Churchill 1977.
function frictionFactor(re, roughness) {
  if (re < 100) return 64 / re;
  const inner = (7 / re) ** 0.9 + 0.27 * roughness;
  const a = (2.457 * Math.log(1 / inner)) ** 16;
  const b = (37530 / re) ** 16;
  return 8 * Math.pow((8 / re) ** 12 + Math.pow(a + b, -1.5), 1 / 12);
}

// Measures that say nothing more once the unit's own figure is told.
const REPLACED = {
  backwash: ["tank_diameter"],
  brine_step: ["tank_diameter", "resin_volume", "inlet_pressure"],
  brine_fall: ["tank_diameter", "resin_volume"],
  drain_run: ["tank_diameter"],
};

// {sum, sigma, at, notTold}: the comparison, and how surely it is known.
function expectReading(model, method, taken, told) {
  const looks = model.comparisons.get(method.compare);
  const items = knownMeasures(model, unique([...looks.needs, ...looks.may_use]), told);
  if (looks.may_use.some((name) => items.has(name))) {
    for (const name of REPLACED[method.compare] ?? []) items.delete(name);
  }
  if (taken.drawn !== null) items.set("drawn_water", { value: taken.drawn, sigma: 0, told: true });
  const unit = unitNamed(model, method.unit);
  const middle = new Map([...items].map(([name, item]) => [name, item.value]));
  const result = comparedWith(model, method.compare, unit, taken.value, taken.seconds || 1, middle);
  const run = method.compare === "drain_run" ? model.physics.half_inch_limit_m : null;
  const logRatio = (values) => {
    const one = comparedWith(model, method.compare, unit, run ?? 1, 1, values);
    return Math.log(Math.max(one.quantity / one.expected, LEAST_RATIO));
  };
  const squares = new Map();
  for (const [name, item] of items) {
    const up = logRatio(withKey(middle, name, item.value * Math.exp(item.sigma)));
    const down = logRatio(withKey(middle, name, item.value * Math.exp(-item.sigma)));
    squares.set(name, ((up - down) / 2) ** 2);
  }
  const total = sum(squares.values());
  const rounded = (name) => Math.round(squares.get(name) * 1e9);
  const order = [...squares.keys()].sort((a, b) => rounded(b) - rounded(a));
  let notTold = order.filter((n) => squares.get(n) > WORTH_TELLING * total && !items.get(n).told);
  if (items.has("tank_diameter") && !items.get("tank_diameter").told) {
    notTold = notTold.map((name) => (name === "resin_volume" ? "tank_diameter" : name));
  }
  return { sum: result, sigma: Math.sqrt(total), at: run ?? result.expected, notTold: unique(notTold) };
}

// --- from a ratio to a likelihood --------------------------------------------------------------

// The error function, by a series of positive terms; for x from 0 to 3.
function erfSeries(x) {
  let term = x;
  let total = x;
  for (let n = 1; term > total * 1e-18; n++) {
    term *= (2 * x * x) / (2 * n + 1);
    total += term;
  }
  return (2 / Math.sqrt(Math.PI)) * Math.exp(-x * x) * total;
}

// Its complement far out, by a continued fraction from the inside; for x from 2 on.
function erfcFraction(x) {
  let f = x;
  for (let k = 150; k > 0; k--) f = x + k / 2 / f;
  return Math.exp(-x * x) / (f * Math.sqrt(Math.PI));
}

const erf = (x) => (x < 0 ? -erf(-x) : x < 2 ? erfSeries(x) : 1 - erfcFraction(x));
const erfc = (x) => (x < 2 ? 1 - erf(x) : erfcFraction(x));

// P(low < z < high) of a standard normal, exact also far out on either side.
function normalBetween(low, high) {
  const half = Math.sqrt(0.5);
  const beyond = (x) => (x === Infinity ? 0 : erfc(x * half));
  if (low > 0) return (beyond(low) - beyond(high)) / 2;
  if (high < 0) return (beyond(-high) - beyond(-low)) / 2;
  const up = high === Infinity ? 1 : erf(high * half);
  const down = low === -Infinity ? -1 : erf(low * half);
  return (up - down) / 2;
}

// P(true ratio in each band between the limits); see `readings.likelihood`.
function bandsOf(ratio, limits, sigma, resolution) {
  const s = resolution / sigma;
  const at = Math.asinh(ratio / s);
  const edges = [-Infinity];
  for (const limit of limits) {
    edges.push(Math.max((Math.asinh(limit / s) - at) / sigma, edges[edges.length - 1]));
  }
  edges.push(Infinity);
  return edges.slice(1).map((high, k) => normalBetween(edges[k], high));
}

// --- the reading -------------------------------------------------------------------------------

// What a number says about an observation: {observation, text, written, likelihood, outcome, clear,
// notTold, says, challenge}. Throws UsageError for what is no number of the right kind.
function interpret(model, observation, text, told) {
  const item = outlineOf(model).observations.get(observation);
  if (!item) throw new UsageError(`there is no observation '${observation}'`);
  const method = item.reading;
  if (!method) throw new UsageError(`${observation} is not read as a number`);
  const taken = takeReading(model, method.kind, text);
  const found = expectReading(model, method, taken, told);
  const { quantity, expected, own } = found.sum;
  const ratio = quantity / expected;
  const unit = unitNamed(model, method.unit);
  const figure = method.figure !== null && !own ? Math.log(method.figure) : 0;
  const sigma = Math.hypot(method.instrument, found.sigma, figure);
  const limits = method.limits.map((one) =>
    one.of === "expected" ? one.value : toSi(unit, one.value) / expected,
  );
  const onScale = bandsOf(ratio, limits, sigma, (method.resolution * unit.scale) / found.at);
  const chances = new Map(method.scale.map((name, k) => [name, onScale[k]]));
  const round = (p) => Math.round(p * 1e12);
  const better = (a, b) =>
    round(chances.get(b)) > round(chances.get(a)) ||
    (round(chances.get(b)) === round(chances.get(a)) && chances.get(b) > chances.get(a));
  const outcome = method.scale.reduce((best, name) => (better(best, name) ? name : best));
  const values = [...item.outcomes.keys()].map((name) => {
    if (chances.has(name)) return chances.get(name);
    return sum([...method.elsewhere.get(name)].map(([band, share]) => share * chances.get(band)));
  });
  const top = Math.max(...values);
  const reading = { observation, text, written: taken.written, outcome, notTold: found.notTold };
  reading.likelihood = values.map((p) => p / top);
  reading.clear = chances.get(outcome) >= CLEAR;
  reading.says = saysOf(model, method, taken, found, ratio, chances, outcome);
  reading.challenge = challengeOf(observation, method, unit, taken);
  return reading;
}

function challengeOf(observation, method, unit, taken) {
  const number = fromSi(unit, taken.value);
  const { least, greatest } = method;
  const slack = 1e-9 * Math.max(Math.abs(least), Math.abs(greatest));
  if (!(least - slack <= number && number <= greatest + slack)) {
    const [side, end] = number < least ? ["less", least] : ["more", greatest];
    const limit = shown(unit, toSi(unit, end));
    const says = `${observation}: ${taken.written} is ${side} than ${limit}; look at number and unit again`;
    return { kind: "implausible", says };
  }
  if (method.soon && taken.seconds !== null && taken.seconds < 60 * method.soon) {
    const says = `${observation}: ${taken.written} was taken too early; wait ${method.soon} minutes`;
    return { kind: "too_early", says };
  }
  return null;
}

const NOUNS = {
  raw_hardness: "raw hardness",
  inlet_pressure: "standing pressure",
  control_voltage: "control's voltage",
  drawn_water: "water drawn",
  saturated_brine: "full brine",
  full_suction: "full suction",
};
const percent = (share) => `${(100 * share).toFixed(0)} %`;

// One line: `0.6 gpm is 22 % of the 2.7 gpm expected: low`.
function saysOf(model, method, taken, found, ratio, chances, outcome) {
  const likely = method.scale.filter((name) => chances.get(name) >= 1 - CLEAR);
  const verdict = chances.get(outcome) >= CLEAR ? outcome : likely.join(" or ");
  const unsure = found.notTold.length ? ` (not told: ${found.notTold.join(", ")})` : "";
  if (method.compare === "unit") {
    const unit = unitNamed(model, method.unit);
    const limit = (k) => shown(unit, toSi(unit, method.limits[k].value));
    const k = method.scale.indexOf(outcome);
    const low = k > 0 ? limit(k - 1) : "";
    const high = k < method.limits.length ? limit(k) : "";
    const range = low && high ? `from ${low} to ${high}` : low ? `above ${low}` : `below ${high}`;
    return `${taken.written}, ${range}: ${verdict}`;
  }
  if (found.sum.unit === null) {
    return `${taken.written} is ${shortNumber(ratio, 2)} times the limit for such a run${unsure}: ${verdict}`;
  }
  const amount = shown(found.sum.unit, found.sum.expected, 2);
  const noun = NOUNS[method.compare];
  const of = noun ? `the ${noun}, ${amount}` : `the ${amount} expected`;
  return `${taken.written} is ${percent(ratio)} of ${of}${unsure}: ${verdict}`;
}
