// Observations that do not go together; see `network.contradiction`.
// Source: Jensen, Chamberlain, Nordahl & Jensen 1991 (from memory).

const ROUNDING = 1e-9;
const CONVINCING = 0.5;

// {bits, suspects: [[observation, bits left]], rareFault}, or null where there is no conflict or
// the visit is too long for exact beliefs.
function contradiction(model, question) {
  let ground;
  try {
    ground = new Ground(model, question);
  } catch (error) {
    if (error instanceof TooLarge) return null;
    throw error;
  }
  const { findings } = ground;
  if (findings.length < 2) return null;
  const logOf = (some) => {
    const found = attempt(() => ground.calibrated(some));
    return found === null ? -Infinity : found.logProbability - ground.logCall;
  };
  const apart = findings.map((one) => logOf([one]));
  const together = logOf(findings);
  if (together === -Infinity) throw new EvidenceConflict("what was seen cannot hold together");
  const bits = (sum(apart) - together) / Math.LN2;
  if (bits <= ROUNDING) return null;
  const suspects = [];
  findings.forEach((one, i) => {
    if (model.complaints.has(one.observation)) return;
    const rest = findings.filter((other) => other !== one);
    const left = (sum(apart.filter((_, k) => k !== i)) - logOf(rest)) / Math.LN2;
    if (left < bits - ROUNDING) suspects.push([one.observation, left]);
  });
  suspects.sort((a, b) => a[1] - b[1] || byName(a[0], b[0]));
  return { bits, suspects, rareFault: explaining(model, ground, logOf) };
}

// The most probable fault, if it is likely and leaves no conflict where it is present.
function explaining(model, ground, logOf) {
  const { faults } = ground.calibrated();
  const place = faults.indexOf(Math.max(...faults));
  if (faults[place] < CONVINCING) return null;
  const fault = [...model.faults.keys()][place];
  const there = { observation: fault, epoch: 0, copy: 0, likelihood: [0, 1] };
  const findings = ground.findings.filter((one) => one.observation !== fault);
  const alone = logOf([there]);
  const apart = findings.map((one) => logOf([there, one]) - alone);
  const bits = (sum(apart) - (logOf([there, ...findings]) - alone)) / Math.LN2;
  return bits <= ROUNDING ? fault : null;
}
