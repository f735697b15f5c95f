// The probability of each fault at a site, before the call is known, from odds solved in Python.

// (Map: fault -> probability) at a site of which `site` (a Map) is known.
function priorsOf(model, site) {
  for (const [condition, value] of site) {
    lookup(`value of ${condition}`, value, lookup("site condition", condition, model.site).values);
  }
  const out = new Map();
  for (const [fault, before] of model.odds.before) {
    const matters = model.odds.factors.get(fault);
    if (!matters.some(([condition]) => site.has(condition))) {
      out.set(fault, before);
      continue;
    }
    const b = model.odds.base.get(fault);
    let total = 0;
    for (const [factor, weight] of mixtureOf(matters, site)) {
      const odds = b * factor;
      total += weight * (odds / (1 + odds));
    }
    out.set(fault, total);
  }
  return out;
}

// Factor on a fault's odds -> share of sites with it, over what `site` leaves open.
function mixtureOf(matters, site) {
  let mixture = new Map([[1, 1]]);
  for (const [condition, values] of matters) {
    const known = site.has(condition);
    const here = known ? [[1, values.get(site.get(condition))[1]]] : [...values.values()];
    const combined = new Map();
    for (const [f, w] of mixture) {
      for (const [share, factor] of here) {
        combined.set(f * factor, (combined.get(f * factor) ?? 0) + w * share);
      }
    }
    mixture = combined;
  }
  return mixture;
}

// Chance of each value of a site condition: certain when known, else its share of calls.
function siteChances(model, site, condition) {
  const values = model.site.get(condition).values;
  if (site.has(condition)) return [...values.keys()].map((v) => (v === site.get(condition) ? 1 : 0));
  return [...values.values()].map((value) => value.share);
}
