// What can be done next, with its price; see `advice.acts`.

// Act -> the reason of the rule that removes it, or holds it back until something is seen.
function blockedBy(state, fired) {
  const seen = stillKnown(state);
  const blocked = new Map();
  for (const { rule } of fired) {
    const held = rule.kind === "first" && rule.until.some((name) => !seen.has(name));
    if (rule.kind !== "excludes" && rule.kind !== "settles" && !held) continue;
    for (const act of rule.acts) if (!blocked.has(act)) blocked.set(act, rule.reason);
  }
  return blocked;
}

// The acts that are only held back: {act, until, lasting}.
function heldBy(state, fired) {
  const seen = stillKnown(state);
  const removes = ({ rule }) => rule.kind === "excludes" || rule.kind === "settles";
  const gone = new Set(fired.filter(removes).flatMap(({ rule }) => rule.acts));
  const held = [];
  for (const { rule } of fired) {
    if (rule.kind !== "first" || rule.until.every((name) => seen.has(name))) continue;
    for (const act of rule.acts) {
      if (!gone.has(act)) held.push({ act, until: rule.until, lasting: !rule.when.saw.size });
    }
  }
  return held;
}

// The acts that some repair, once it is made, holds back: {act, until, lasting, after}.
function heldLater(model, state) {
  const repairs = [...model.repairs.keys()];
  const { site, complaints } = state;
  const held = [];
  const every = { site, complaints, done: repairs };
  for (const { rule } of rulesThatHold(model, every, historySeen(model, state))) {
    if (rule.kind !== "first" || !rule.when.done.length) continue;
    const made = rule.when.done.some((id) => state.done.includes(id));
    const after = made ? repairs : rule.when.done;
    for (const act of rule.acts) held.push({ act, until: rule.until, lasting: true, after });
  }
  return held;
}

const doubtedBy = (fired) =>
  new Set(fired.filter(({ rule }) => rule.kind === "doubts").flatMap(({ rule }) => rule.acts));

function isOpen(state, id, item, blocked) {
  if (blocked.has(id) || state.couldNot.has(id)) return false;
  return [...item.applies].every(
    ([name, values]) => !state.site.has(name) || namedStates(values).includes(state.site.get(name)),
  );
}

// Whether a check or repair is ours to make on this site at all, whatever the rules say.
function couldBeMade(model, state, id) {
  const item = model.checks.get(id) ?? model.repairs.get(id);
  return item.who !== "licensed" && isOpen(state, id, item, new Map());
}

// The observations of a check that have not been made, or are doubted and not repeated.
function openQuestions(model, state, fired, check) {
  const seen = seenNow(state);
  const doubts = doubtedBy(fired);
  return [...model.checks.get(check).observations.keys()].filter(
    (name) =>
      !wasSkipped(state, name) &&
      (!seen.has(name) || (doubts.has(name) && timesSeen(state, name) === 1)),
  );
}

function priceOfTime(model, minutes, waiting) {
  const { attention_per_minute: attention, waiting_per_minute: idle } = model.about.money;
  return minutes * attention + waiting * idle;
}

// Price of the parts of a repair, and of fetching those that may not be here.
function priceOfParts(model, state, id) {
  const { parts } = model.repairs.get(id);
  let atHand = 1;
  for (const part of parts) {
    if (state.partsHere.has(part)) continue;
    atHand *= state.partsMissing.has(part) ? 0 : model.parts.get(part).in_van;
  }
  const price = sum(parts.map((part) => model.parts.get(part).price));
  return price + (1 - atHand) * model.about.money.fetch_part;
}

const priceOfRepair = (model, state, id) =>
  model.repairs.get(id).minutes * model.about.money.attention_per_minute +
  priceOfParts(model, state, id);

// Every act open now, in the order of the model files; finish and escalate always are.
function openActs(model, state, routes, start, fired) {
  const blocked = blockedBy(state, fired);
  const acts = [];
  const brine = drawsLeft(model, state);
  const add = (kind, id, item, more = {}) => {
    const route = more.route ?? attemptRoute(() => routes.way(start, item.needs));
    if (!route) return;
    const minutes = (item.minutes ?? 0) + (more.minutes ?? 0) + route.minutes;
    const waiting = (item.waiting_minutes ?? 0) + (more.waiting ?? 0) + route.waiting;
    const cost = (more.extra ?? 0) + priceOfTime(model, minutes, waiting);
    const cautions = item.cautions ?? [];
    const end = routes.after(route.end, item.leaves ?? new Map());
    const name = more.name ?? item.name;
    acts.push({ kind, id, name, how: item.how ?? "", route, minutes, waiting, cost, cautions, end });
  };
  for (const [id, check] of model.checks) {
    if (check.who === "licensed" || !isOpen(state, id, check, blocked)) continue;
    if (!openQuestions(model, state, fired, id).length) continue;
    const [minutes, waiting] = refillTime(model, brine, id);
    add("check", id, check, { minutes, waiting });
  }
  for (const [id, repair] of model.repairs) {
    if (state.done.filter((one) => one === id).length >= model.search.tries) continue;
    if (!isOpen(state, id, repair, blocked)) continue;
    const missing = repair.parts.filter((part) => state.partsMissing.has(part));
    const names = missing.map((part) => model.parts.get(part).name.toLowerCase()).join(", ");
    const licensed = repair.who === "licensed";
    const kind = licensed ? "escalate" : missing.length ? "fetch" : "repair";
    const extra = priceOfParts(model, state, id) + (licensed ? model.about.money.escalation : 0);
    add(kind, id, repair, { extra, name: missing.length ? `Fetch ${names} for: ${repair.name}` : undefined });
  }
  const { proof } = model.about;
  const provable = state.done.length && !seenNow(state).has(PROOF) && !state.couldNot.has(PROOF);
  if (provable) add("prove", PROOF, proof);
  const pending = state.done.length && seenNow(state).get(PROOF) !== "passed";
  const finish = pending ? "Finish: repaired, proof pending" : "Finish the visit";
  add("finish", FINISH, {}, { name: finish, route: routes.service(start) });
  const passOn = "Leave the unit safe and pass the case on";
  const extra = model.about.money.escalation;
  add("escalate", ESCALATE, {}, { name: passOn, route: routes.parked(start), extra });
  return acts;
}

// Every caution of the way and of the work, each once, where it first matters.
const cautionsOf = (act) => unique([...act.route.cautions, ...act.cautions]);
