"""From stated shares of calls to the odds that the network starts from.

`faults.yaml` says in which part of all calls a fault is present. The network needs the probability
before it is known that anybody calls. Faults are taken as independent then; a call comes when any
fault is present, or now and then without one. With s_i the stated shares, p0 the share of calls
without a fault and Z = P(call), q_i = s_i Z must be the probability of fault i, so that

    Z (1 - p0) = 1 - prod(1 - s_i Z)

which has one root in (0, 1] whenever there is one at all. Then P(fault i | call) = q_i / Z = s_i.

Site conditions multiply the odds of q_i. The base odds are solved so that the average over the
shares of the conditions' values is q_i again; a value under which a fault cannot exist has the
factor 0. What is not known about a site is averaged over, fault by fault.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, prod

import numpy as np
from numpy.typing import NDArray

from brinebayes.errors import ModelError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import lookup
from brinebayes.knowledge.schema import Fault, Model
from brinebayes.record import record

#: Far beyond any odds that 64-bit shares can ask for.
WIDEST_LOG_ODDS = 700.0


#: Shares that were worked out from odds may miss by rounding that somebody always calls.
ROUNDING = 1e-12


#: One site condition as one fault sees it: its id, and value -> (share, factor on the odds).
SiteFactors = tuple[str, Mapping[str, tuple[float, float]]]


@record
class Odds:
    """What the shares solve to; the same for every site.

    `call`: P(call). `call_without_fault`: P(call | no fault). `before`: fault -> probability before
    the call, averaged over all sites. `base`: fault -> odds that the factors of a site multiply.
    `factors`: fault -> the site conditions that matter to it.
    """

    call: float
    call_without_fault: float
    before: Mapping[str, float]
    base: Mapping[str, float]
    factors: Mapping[str, tuple[SiteFactors, ...]]


_solved: dict[str, Odds] = {}


def base(model: Model) -> Odds:
    """Solve the shares of `model` once; kept for the life of the process by the model's hash.

    Raises ModelError when no independent faults can have these shares.
    """
    found = _solved.get(model.hash)
    if found is None:
        found = _solved[model.hash] = _solve(model)
    return found


def keep(model: Model, odds: Odds) -> None:
    """Remember what was solved for a model before and kept elsewhere."""
    _solved.setdefault(model.hash, odds)


def priors(model: Model, site: Mapping[str, str]) -> dict[str, float]:
    """Probability of each fault before the call is known, at a site of which `site` is known.

    Exactly 0 for a fault that cannot exist there. Raises UsageError for an unknown condition or
    value.
    """
    check_site(model, site)
    odds = base(model)
    out = {}
    for fault, before in odds.before.items():
        matters = odds.factors[fault]
        if not any(condition in site for condition, _ in matters):
            out[fault] = before
            continue
        b = odds.base[fault]
        mixture = _mixture(matters, site)
        out[fault] = sum(w * _odds_to_probability(b * f) for f, w in mixture.items())
    return out


def fault_counts(model: Model, site: Mapping[str, str]) -> tuple[float, float, float, float]:
    """Share of calls with no, one, two, and three or more faults at such a site; sums to 1."""
    counts = np.ones(1)
    for p in priors(model, site).values():
        counts = np.convolve(counts, (1.0 - p, p))
    counts = np.concatenate([counts, np.zeros(3)])
    counts[0] *= base(model).call_without_fault
    counts /= counts.sum()
    return float(counts[0]), float(counts[1]), float(counts[2]), float(counts[3:].sum())


def site_chances(model: Model, site: Mapping[str, str], condition: str) -> tuple[float, ...]:
    """Chance of each value of a site condition: certain when known, else its share of calls."""
    values = model.site[condition].values
    if condition in site:
        return tuple(float(value == site[condition]) for value in values)
    return tuple(value.share.value for value in values.values())


def check_site(model: Model, site: Mapping[str, str]) -> None:
    """Raise UsageError when `site` names a condition or a value that the model does not have."""
    for condition, value in site.items():
        lookup(
            f"value of {condition}", value, lookup("site condition", condition, model.site).values
        )


def _solve(model: Model) -> Odds:
    shares = {fault_id: fault.share.value for fault_id, fault in model.faults.items()}
    without = model.about.calls_without_fault.value
    call = _call_probability(list(shares.values()), without)
    before = {fault_id: share * call for fault_id, share in shares.items()}
    none = prod(1.0 - q for q in before.values())
    factors = {f: _factors(model, f, fault) for f, fault in model.faults.items()}
    mixtures = [_mixture(matters, {}) for matters in factors.values()]
    solved = _base_odds(tuple(model.faults), np.array(list(before.values())), mixtures)
    return Odds(
        call=call,
        call_without_fault=without * call / none if without else 0.0,
        before=ReadOnly(before),
        base=ReadOnly(dict(zip(model.faults, solved, strict=True))),
        factors=ReadOnly(factors),
    )


def _call_probability(shares: list[float], without: float) -> float:
    """The root Z in (0, 1] of Z (1 - p0) = 1 - prod(1 - s_i Z), by bisection."""
    total = sum(shares)
    if not total > 1.0 - without:
        raise ModelError(
            f"faults.yaml: share: the shares sum to {total:.6g}; every call that is not without a"
            f" fault has at least one, so they must sum to more than {1.0 - without:.6g}"
        )

    def excess(z: float) -> float:
        return (1.0 - prod(1.0 - s * z for s in shares)) - z * (1.0 - without)

    if excess(1.0) > ROUNDING:
        raise ModelError(
            "faults.yaml: share: independent faults with these shares would leave fewer than"
            f" {without:.6g} of all calls without a fault (model.yaml: calls_without_fault)"
        )
    # Concave with a root at 0: positive up to the root that is wanted, negative beyond it.
    low, high = 0.0, 1.0
    while low < (middle := 0.5 * (low + high)) < high:
        low, high = (middle, high) if excess(middle) > 0.0 else (low, middle)
    return high


def _factors(model: Model, fault_id: str, fault: Fault) -> tuple[SiteFactors, ...]:
    """The site conditions that change the odds of a fault, or rule it out (factor 0)."""
    found = []
    for condition_id, condition in model.site.items():
        allowed = fault.applies.get(condition_id, tuple(condition.values))
        allowed = (allowed,) if isinstance(allowed, str) else allowed
        values = {}
        for name, value in condition.values.items():
            factor = value.factors[fault_id].value if fault_id in value.factors else 1.0
            values[name] = (value.share.value, factor if name in allowed else 0.0)
        if any(factor != 1.0 for _, factor in values.values()):
            found.append((condition_id, ReadOnly(values)))
    return tuple(found)


def _mixture(matters: tuple[SiteFactors, ...], site: Mapping[str, str]) -> dict[float, float]:
    """Factor on a fault's odds -> share of sites with it, over what `site` leaves open."""
    mixture = {1.0: 1.0}
    for condition, values in matters:
        known = condition in site
        here = [(1.0, values[site[condition]][1])] if known else list(values.values())
        combined: dict[float, float] = {}
        for f, w in mixture.items():
            for share, factor in here:
                combined[f * factor] = combined.get(f * factor, 0.0) + w * share
        mixture = combined
    return mixture


def _odds_to_probability(odds: float) -> float:
    return odds / (1.0 + odds)


def _base_odds(
    names: tuple[str, ...], q: NDArray[np.float64], mixtures: list[dict[float, float]]
) -> list[float]:
    """Odds b_i with sum over the mixture of w · b f / (1 + b f) = q_i, all faults at once."""
    widest = max((len(m) for m in mixtures), default=1)
    factor = np.zeros((len(names), widest))
    weight = np.zeros((len(names), widest))
    for i, mixture in enumerate(mixtures):
        factor[i, : len(mixture)] = list(mixture)
        weight[i, : len(mixture)] = list(mixture.values())
        possible = sum(w for f, w in mixture.items() if f > 0.0)
        if q[i] > 0.0 and not q[i] < possible:
            raise ModelError(
                f"faults.yaml: {names[i]}: share: more than the {possible:.6g} of sites at which"
                " the fault can exist allow"
            )
    simple = np.array([set(m) == {1.0} for m in mixtures], dtype=bool)
    low = np.full(len(names), -WIDEST_LOG_ODDS)
    high = np.full(len(names), WIDEST_LOG_ODDS)
    for _ in range(80):
        middle = 0.5 * (low + high)
        # The factors are finite, so b·f overflows nowhere near the root; far from it only the
        # side matters.
        with np.errstate(over="ignore", invalid="ignore"):
            bf = np.exp(middle)[:, None] * factor
            p = np.where(np.isinf(bf), 1.0, bf / (1.0 + bf))
        above = (weight * p).sum(axis=1) > q
        low = np.where(above, low, middle)
        high = np.where(above, middle, high)
    out = []
    for i in range(len(names)):
        if q[i] == 0.0:
            out.append(0.0)
        elif simple[i]:
            out.append(float(q[i] / (1.0 - q[i])))
        else:
            out.append(_polish(0.5 * (low[i] + high[i]), float(q[i]), mixtures[i]))
    return out


def _polish(log_odds: float, q: float, mixture: dict[float, float]) -> float:
    """Two Newton steps in log odds: bisection over so wide a range ends an ulp or two away."""
    for _ in range(2):
        ps = [(w, _odds_to_probability(exp(log_odds) * f)) for f, w in mixture.items()]
        value = sum(w * p for w, p in ps)
        slope = sum(w * p * (1.0 - p) for w, p in ps)
        log_odds += (q - value) / slope if slope > 0.0 else 0.0
    return exp(log_odds)
