// Observations that do not go together; see `network.contradiction`.
// Source: Jensen, Chamberlain, Nordahl & Jensen 1991 (from memory).

const ROUNDING = 1e-9;
const CONVINCING = 0.5;

// {bits, suspects: [[observation, bits left]], rareFault}, or null where there is no conflict above
// `least` bits or the visit is too long for exact beliefs.
function contradiction(belief, least = ROUNDING) {
  const { ground, model } = belief;
  if (!ground || ground.findings.length < 2) return null;
  const { findings } = ground;
  const logOf = (some) => ground.logProbability(some) - ground.logCall;
  const apart = findings.map((one) => logOf([one]));
  const bits = (sum(apart) - belief.logEvidence) / Math.LN2;
  if (bits <= least) return null;
  const suspects = [];
  findings.forEach((one, i) => {
    if (model.complaints.has(one.observation)) return;
    const rest = findings.filter((other) => other !== one);
    const left = (sum(apart.filter((_, k) => k !== i)) - logOf(rest)) / Math.LN2;
    if (left < bits - ROUNDING) suspects.push([one.observation, left]);
  });
  suspects.sort((a, b) => a[1] - b[1] || byName(a[0], b[0]));
  return { bits, suspects, rareFault: explaining(belief, logOf) };
}

// The most probable fault, if it is likely and leaves no conflict where it is present.
function explaining({ ground, faults }, logOf) {
  const [[fault, share]] = [...faults].sort((a, b) => b[1] - a[1]);
  if (share < CONVINCING) return null;
  const there = { observation: fault, epoch: 0, copy: 0, likelihood: [0, 1] };
  const findings = ground.findings.filter((one) => one.observation !== fault);
  const alone = logOf([there]);
  const apart = findings.map((one) => logOf([there, one]) - alone);
  const bits = (sum(apart) - (logOf([there, ...findings]) - alone)) / Math.LN2;
  return bits <= ROUNDING ? fault : null;
}
