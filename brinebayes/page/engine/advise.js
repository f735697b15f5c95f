// The one question of a visit: what is likely wrong, and what to do next; see `advice.advise`.

const CONFLICT_TOLD_FROM = 1;

// {now, faults: [[id, share]], works, ranked, next, reason, contradiction}.
function advise(model, routes, state) {
  const now = new Situation(model, routes, state);
  const ranked = choose(now);
  const shares = [...now.belief.faults];
  const size = (share) => Math.round(share * 1e12);
  shares.sort((a, b) => size(b[1]) - size(a[1]));
  return {
    now,
    faults: shares,
    works: now.belief.works,
    effectiveDraws: now.belief.effectiveDraws ?? Infinity,
    ranked,
    next: ranked[0],
    reason: reasonOf(now, ranked, ranked[0]),
    contradiction: contradiction(now.belief, CONFLICT_TOLD_FROM),
  };
}
