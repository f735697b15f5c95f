"""Every id of a model by kind, and the states, values or outcomes of each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from brinebayes.knowledge.names import a, suggest
from brinebayes.knowledge.schema import FAULT_STATES, PROOF, PROOF_OUTCOMES, Model
from brinebayes.record import record

#: The kinds of id that share one namespace, as they are called in messages.
FAULT = "fault"
MECHANISM = "mechanism"
CONDITION = "site condition"
MEASURE = "measure"
CHECK = "check"
OBSERVATION = "observation"
REPAIR = "repair"
COMPLAINT = "complaint"
RULE = "rule"
MOVE = "move"

PARENTS = (FAULT, MECHANISM, CONDITION)


@record
class Known:
    """`kinds`: kind -> its ids. `states`: id of something with states -> their names."""

    kinds: Mapping[str, tuple[str, ...]]
    states: Mapping[str, tuple[str, ...]]
    setups: Mapping[str, tuple[str, ...]]

    @staticmethod
    def of(model: Model) -> Known:
        """Collect the ids of a model."""
        observations = {
            name: tuple(observation.outcomes)
            for check in model.checks.values()
            for name, observation in check.observations.items()
        }
        conditions = {name: tuple(each.values) for name, each in model.site.items()}
        mechanisms = {name: each.states for name, each in model.mechanisms.items()}
        return Known(
            kinds={
                FAULT: tuple(model.faults),
                MECHANISM: tuple(model.mechanisms),
                CONDITION: tuple(model.site),
                MEASURE: tuple(model.measures),
                CHECK: tuple(model.checks),
                OBSERVATION: tuple(observations),
                REPAIR: tuple(model.repairs),
                COMPLAINT: tuple(model.complaints),
                RULE: tuple(model.rules),
                MOVE: tuple(model.setups.moves),
            },
            states={
                **dict.fromkeys(model.faults, FAULT_STATES),
                **conditions,
                **mechanisms,
                **observations,
                PROOF: PROOF_OUTCOMES,
            },
            setups={name: tuple(each.values) for name, each in model.setups.variables.items()},
        )

    def refuses(self, word: str, kinds: tuple[str, ...]) -> str:
        """Why `word` is not the id of one of these kinds; the empty text if it is."""
        if any(word in self.kinds[kind] for kind in kinds):
            return ""
        wanted = either(kinds)
        for kind, ids in self.kinds.items():
            if word in ids:
                return f"{word} is {a(kind)}; here stands {a(wanted)}"
        near = suggest(word, [name for kind in kinds for name in self.kinds[kind]])
        return f"there is no {wanted} {word}{near}"


def either(kinds: Iterable[str]) -> str:
    """`fault, mechanism or site condition`."""
    *first, last = kinds
    return f"{', '.join(first)} or {last}" if first else last
