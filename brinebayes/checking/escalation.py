"""Licensed work that no rule hands over to the trade it belongs to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from brinebayes.checking.exact import Exact
from brinebayes.checking.remark import Remark, warning
from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.schema import Model, Observation, Rule
from brinebayes.knowledge.well_formed.spots import CHECKS, REPAIRS
from brinebayes.network import graph
from brinebayes.network.belief import Question, Seen, believe
from brinebayes.setups.states import allowed

#: A rule is about a fault when what it asks for makes the fault at least this much more probable.
RAISES = 2.0


def remarks(exact: Exact) -> Iterator[Remark]:
    """Licensed repairs whose faults no escalating rule is about; licensed checks without any."""
    model = exact.model
    rules = {name: rule for name, rule in model.rules.items() if rule.kind == "escalates"}
    about = set().union(*(_about(model, rule, exact.called.faults) for rule in rules.values()))
    for name, repair in model.repairs.items():
        cleared = {fault for fault, chance in repair.clears.items() if chance.value > 0.0}
        if repair.who == "licensed" and not cleared & about:
            says = (
                f"licensed work, but no rule that escalates is about"
                f" {' or '.join(sorted(cleared))}; add one to rules.yaml that names the trade"
            )
            yield warning("no_escalation", REPAIRS / name / "who", says)
    for name, check in model.checks.items():
        if check.who == "licensed" and not rules:
            says = (
                "licensed work, but no rule escalates; add one to rules.yaml that names the trade"
            )
            yield warning("no_escalation", CHECKS / name / "who", says)


def _about(model: Model, rule: Rule, now: Mapping[str, float]) -> set[str]:
    """The faults that become clearly more probable when the rule's observations are made."""
    shown = graph.observations(model)
    seen = tuple(
        Seen(0, name, tuple(float(o in allowed(outcomes)) for o in _outcomes(shown, name)))
        for name, outcomes in rule.when.saw.items()
    )
    site = {name: allowed(values)[0] for name, values in rule.when.site.items()}
    found: set[str] = set()
    for complaint in rule.when.complaint or ("",):
        complaints = (complaint,) if complaint else ()
        try:
            then = believe(model, Question(site=site, complaints=complaints, seen=seen)).faults
        except EvidenceConflict:
            continue
        found |= {fault for fault, p in then.items() if p >= RAISES * now[fault]}
    return found


def _outcomes(shown: Mapping[str, Observation], name: str) -> tuple[str, ...]:
    return graph.PROOF_OUTCOMES if name == graph.PROOF else tuple(shown[name].outcomes)
