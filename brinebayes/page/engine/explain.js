// Why an act, what its outcomes would mean, and the sentences for it; see `advice.explanation` and
// `wording.fill`. The templates come with the model.

const LEADING = 3;
const NAMED_FROM = 0.02;

// What each outcome of a check would mean: {observation, outcome, probability, leading}.
function meaningsOf(now, act) {
  if (act.kind !== "check") return [];
  const { model, belief, answered } = now;
  const faults = [...model.faults.keys()];
  const found = [];
  for (const [name, observation] of model.checks.get(act.id).observations) {
    if (answered.has(name)) continue;
    const joint = belief.joint(name);
    [...observation.outcomes.keys()].forEach((outcome, k) => {
      const { chance, faults: after } = joint[k];
      const order = faults.map((_, i) => i);
      const size = (i) => Math.round(after[i] * 1e9);
      order.sort((a, b) => size(b) - size(a) || a - b);
      const leading = order.slice(0, LEADING).map((i) => [faults[i], after[i]]);
      found.push({ observation: name, outcome, probability: chance, leading });
    });
  }
  return found;
}

// {template, values} that speak for an act.
function reasonOf(now, ranked, valued) {
  const { model, belief } = now;
  const { act } = valued;
  const shares = belief.faults;
  const largest = (names) => names.reduce((best, n) => (compared(shares.get(n)) > compared(shares.get(best)) ? n : best));
  const leader = largest([...shares.keys()]);
  const values = {
    leader: model.faults.get(leader).name,
    leader_share: shares.get(leader),
    works: belief.works,
    works_after: valued.worksAfter,
    bits: valued.bits,
    expected_cost: valued.expectedCost,
    currency: model.about.currency,
  };
  if (act.kind === "check") return checkReason(now, ranked, valued, values);
  if (model.repairs.has(act.id)) {
    const target = largest([...model.repairs.get(act.id).clears.keys()]);
    const of = { target: model.faults.get(target).name, target_share: shares.get(target) };
    return { template: `${act.kind}.mends`, values: { ...values, ...of } };
  }
  if (act.id === PROOF) return { template: "prove", values };
  if (act.kind === "finish") return { template: "finish", values };
  const unknown = shares.get(model.about.unknown_cause);
  return { template: "escalate.unknown", values: { ...values, unknown_share: unknown } };
}

// Two likely answers to one question that leave different faults in front, else one answer.
function checkReason(now, ranked, valued, values) {
  const told = meaningsOf(now, valued.act);
  let likely = told.filter((one) => one.probability >= NAMED_FROM);
  if (!likely.length) likely = [...told];
  if (!likely.length) return { template: "check.wanted", values };
  likely.sort((a, b) => compared(b.probability) - compared(a.probability));
  if (!likely.length) return { template: "check.wanted", values };
  const pairs = [];
  likely.forEach((first, place) => {
    for (const other of likely.slice(place + 1)) {
      const apart = other.leading[0][0] !== first.leading[0][0];
      if (other.observation === first.observation && apart) pairs.push([first, other]);
    }
  });
  const named = (prefix, one) => {
    const [fault, chance] = one.leading[0];
    return {
      [`${prefix}_outcome`]: outcomeName(now.model, one.observation, one.outcome),
      [`${prefix}_fault`]: now.model.faults.get(fault).name,
      [`${prefix}_share`]: chance,
    };
  };
  if (!pairs.length) {
    const worth = (one) => compared(one.probability * one.leading[0][1]);
    const surest = likely.reduce((best, one) => (worth(one) > worth(best) ? one : best));
    return { template: "check.confirms", values: { ...values, ...named("first", surest) } };
  }
  const [first, other] = pairs.reduce((a, b) => (compared(b[1].probability) > compared(a[1].probability) ? b : a));
  const both = { ...named("first", first), ...named("second", other) };
  return { template: "check.splits", values: { ...values, ...both } };
}

// --- words -------------------------------------------------------------------------------------

// Half-way cases go to the even neighbour, as in Python.
function wholeNumber(value) {
  const low = Math.floor(value);
  const rest = value - low;
  if (rest !== 0.5) return String(rest < 0.5 ? low : low + 1);
  return String(low % 2 ? low + 1 : low);
}

function shareText(value) {
  if (value > 0 && value < 0.01) return "under 1 %";
  if (value > 0.99 && value < 1) return "over 99 %";
  return `${wholeNumber(100 * value)} %`;
}
const moneyText = (value, currency) => `${wholeNumber(value)} ${currency}`;
function minutesText(attention, waiting) {
  const text = `${wholeNumber(attention)} min`;
  return waiting >= 0.5 ? `${text} + ${wholeNumber(waiting)} min waiting` : text;
}

// A template with its places filled; numbers are written by the name of their place.
function fillIn(words, template, values) {
  const { share, money } = words.formats;
  const ends = (name, list) => list.some((end) => name.endsWith(end));
  return template.replace(/\{(\w+)\}/g, (_, name) => {
    const value = values[name];
    if (typeof value !== "number") return String(value);
    if (ends(name, share)) return shareText(value);
    if (ends(name, money)) return moneyText(value, values.currency ?? "");
    return value.toFixed(1);
  });
}
const reasonText = (words, { template, values }) => fillIn(words, words.reasons[template], values);
