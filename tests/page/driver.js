// Answers a batch of questions with the page's engine; one JSON document in, one out.
const input = JSON.parse(require("fs").readFileSync(0, "utf8"));

function asked(model, { site, complaints, done, seen, observations, conflict }) {
  const question = { site: new Map(Object.entries(site)), complaints, done, seen };
  try {
    const belief = new Belief(model, question);
    const out = { faults: [...belief.faults.values()], works: belief.works };
    out.noFault = belief.noFault;
    out.logEvidence = belief.logEvidence;
    out.outcomes = observations.map((name) => Array.from(belief.outcomes(name)));
    out.joint = observations.map((name) =>
      belief.joint(name).map(({ chance, faults }) => Array.from(faults, (p) => p * chance)),
    );
    out.contradiction = conflict ? contradiction(belief) : null;
    return out;
  } catch (error) {
    if (error instanceof TooLarge) return { tooLarge: true };
    if (error instanceof EvidenceConflict) return { impossible: true };
    throw error;
  }
}

function believed({ network, leaves, openRoots, evidence }) {
  const tree = new JunctionTree(network, leaves, openRoots, null);
  const found = attempt(() => calibrate(tree, new Map(Object.entries(evidence))));
  if (found === null) return null;
  const all = network.variables.map(({ name }) =>
    Array.from(tree.leaves.has(name) ? predicted(found, name) : marginal(found, [name])),
  );
  return { logEvidence: found.logEvidence, marginals: all, entries: tree.entries };
}

function shapeOf(model, { done, seen }) {
  try {
    const { whole, entries } = treesFor(model, done, seen);
    return { entries, cliques: whole.tree.cliques.map((one) => [one.names, one.parent]) };
  } catch (error) {
    if (error instanceof TooLarge) return { tooLarge: true };
    throw error;
  }
}

function drawn(model, { n, seed, ...rest }) {
  const { site, complaints, done, seen } = rest;
  const question = { site: new Map(Object.entries(site)), complaints, done, seen };
  const belief = new Belief(model, question);
  const rows = drawWorlds(belief.ground, belief.mixture, n, BigInt(seed));
  const columns = (map) => Object.fromEntries([...map].map(([k, v]) => [k, Array.from(v)]));
  return {
    weights: Array.from(rows.weights),
    effectiveDraws: rows.effectiveDraws,
    works: Array.from(rows.works),
    faults: columns(rows.faults),
    noise: columns(rows.noise),
    site: columns(rows.site),
    mechanisms: columns(rows.mechanisms),
    firstMechanisms: columns(rows.first.mechanisms),
    outcomes: rest.observations.map((name) => outcomeChances(model, name, rows).map((c) => Array.from(c))),
  };
}

function readied(data) {
  const model = revived(data);
  const bytes = require("zlib").inflateSync(Buffer.from(model.routes.packed, "base64"));
  return [model, new Routes(model, model.routes, new Uint8Array(bytes))];
}

// Everything about a visit after these events, or what is wrong with them.
function stood([model, routes], { events, chosen, told }) {
  try {
    const state = fold(model, events);
    const now = new Situation(model, routes, state);
    const out = {
      start: now.start,
      notes: now.notes.map(({ id, because }) => [id, because]),
      leftOut: now.leftOut,
      blocked: [...now.blocked].sort(),
      acts: now.acts.map((act) => [act.kind, act.id, act.name, act.minutes, act.waiting, act.cost, act.end, act.route.moves, cautionsOf(act)]),
      seed: String(seedOf(model, now.question)),
      readings: state.readings.map(({ place, reading }) => [place, reading.likelihood, reading.outcome, reading.clear, reading.challenge && reading.challenge.kind, reading.notTold]),
    };
    if (!chosen) return out;
    const advice = advise(model, routes, state);
    out.ranked = advice.ranked.map((one) => [one.act.id, one.expectedCost, one.bits, one.worksAfter]);
    out.faults = advice.faults;
    out.reason = reasonText(told, advice.reason);
    out.meanings = meaningsOf(advice.now, advice.next.act).map((one) => [one.observation, one.outcome, one.probability, one.leading]);
    return out;
  } catch (error) {
    if (error instanceof TooLarge) return { tooLarge: true };
    for (const kind of [EvidenceConflict, UsageError, UnsafeRoute]) {
      if (error instanceof kind) return { error: kind.name, says: error.message };
    }
    throw error;
  }
}

const TASKS = {
  events: () => ({ kinds: KINDS, ends: ENDS, hows: HOWS }),
  situations: ({ model, visits, told }) => {
    const ready = readied(model);
    return visits.map((one) => stood(ready, { ...one, told }));
  },
  chance: ({ seeds, count }) => Array.from(new Chance(...seeds).randoms(count)),
  rows: ({ model, questions }) => {
    const ready = revived(model);
    return questions.map((one) => drawn(ready, one));
  },
  twister: ({ seed, count }) => {
    const chance = new Twister(seed);
    return Array.from({ length: count }, () => chance.random());
  },
  believed,
  visits: ({ model, questions }) => {
    const ready = revived(model);
    return questions.map((one) => asked(ready, one));
  },
  shapes: ({ model, questions }) => {
    const ready = revived(model);
    return questions.map((one) => shapeOf(ready, one));
  },
};
console.log(JSON.stringify(input.map(({ task, ...rest }) => TASKS[task](rest))));
