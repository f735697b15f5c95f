// The choice: the act with the least expected cost to end the visit; see `advice.choose`.

// Every open act, best first: {act, expectedCost, bits, worksAfter}; to the cent, ties by id.
function choose(now) {
  const problem = new Problem(now, now.model.search.rows);
  const found = new Search(problem).run();
  const options = new Map(found.root.options.map((option) => [`${option.kind} ${option.index}`, option]));
  const valued = [];
  for (const act of now.acts) {
    const option = options.get(keyOf(problem, act));
    if (option || act.kind === "escalate") valued.push(valueOf(problem, found, act, option));
  }
  const careful = carefully(valued, now.model.search.apart);
  const cents = (one) => Number(compared(one.expectedCost).toFixed(2));
  return careful.sort((a, b) => cents(a) - cents(b) || byName(a.act.id, b.act.id));
}

// Estimates moved towards the upper bounds where these are nearly as low as what is hoped for.
function carefully(valued, [near, far]) {
  const plan = Math.min(...valued.map((v) => v.upper));
  const hoped = Math.min(...valued.map((v) => v.expectedCost));
  const apart = (plan - hoped) / Math.max(plan, 0.01);
  const trust = Math.min(Math.max((far - apart) / (far - near), 0), 1);
  return valued.map((v) => ({ ...v, expectedCost: (1 - trust) * v.expectedCost + trust * v.upper }));
}

function keyOf(problem, act) {
  if (act.kind === "check") return `check ${problem.checks.indexOf(act.id)}`;
  if (problem.repairs.includes(act.id)) return `repair ${problem.repairs.indexOf(act.id)}`;
  return act.id === PROOF ? "prove 0" : `${act.kind} -1`;
}

function valueOf(problem, { root, rate }, act, option) {
  const worksAfter = problem.now.belief.works;
  const certain = (cost) => ({ act, expectedCost: cost, lower: cost, upper: cost, bits: 0, worksAfter });
  if (act.kind === "escalate" || !option) return certain(act.cost);
  if (act.kind === "finish") return certain(act.cost + (1 - worksAfter) * problem.stakes.secondVisit);
  const factors = exactFactors(problem, act, option);
  const whole = (costs) => act.cost + sum(costs.map((cost, k) => factors[k] * cost));
  const values = {
    act,
    expectedCost: whole(option.fair()),
    lower: whole(option.lowers),
    upper: whole(option.uppers),
  };
  if (act.kind === "check" && !worthItsPrice(problem, rate, option)) values.expectedCost = values.upper;
  if (act.kind === "check" || act.kind === "prove") return { ...values, bits: option.bits, worksAfter };
  return { ...values, bits: 0, worksAfter: problem.bounds.mended(option.index, root.belief) };
}

// Whether a check tells enough for its price, beside the one that tells most.
function worthItsPrice(problem, rate, option) {
  if (rate.check < 0) return false;
  const asked = problem.prices.ownChecks[option.index];
  return compared(rate.price * option.bits) >= compared(problem.now.model.search.worth * asked);
}

// For each outcome its exact chance over its chance in the table of rows.
function exactFactors(problem, act, option) {
  const ones = option.totals.map(() => 1);
  let name = PROOF;
  if (act.kind === "check") {
    const { observations } = problem.model.checks.get(act.id);
    const fresh = [...observations.keys()].filter((one) => !problem.answered.has(one));
    if (fresh.length !== 1) return ones;
    [name] = fresh;
  } else if (act.kind !== "prove") return ones;
  const chances = problem.now.belief.outcomes(name);
  return option.totals.map((total, k) => (total > 0 ? chances[k] / total : 1));
}
