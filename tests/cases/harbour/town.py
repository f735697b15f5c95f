"""Where the harbour differs from what the model believes, so that tuning has something to find.

Everything here is invented. Each difference is one that a shop could have: damp rooms, guests who
change the use of water, a careless way of probing, a cleaner that does less than hoped for.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Model

#: Site condition -> value -> share of the calls; values not named share the rest as in the model.
SITES = {
    "salt_room": {"bridging": 0.45},
    "water_source": {"city": 0.55, "city_chlorine": 0.25},
    "household": {"changed": 0.4},
}
#: Fault -> factor on its share of calls.
SHARES = {"salt_bridge": 2.0, "meter_stuck": 2.5, "salt_low": 0.5, "air_leak": 0.4}
#: Observation -> how often it is misread.
MISREAD = {"salt_probe": 0.2}
#: (repair, fault) -> how often the repair clears it.
CLEARS = {("clean_injector", "nozzle_clogged"): 0.6}
#: Check -> factor on its minutes.
MINUTES = {"measure_level": 1.8, "test_hardness": 0.6}


def town(model: Model) -> Model:
    """The model of the shop's own world."""
    site = {name: _site(condition, SITES.get(name, {})) for name, condition in model.site.items()}
    faults = {
        name: replace(fault, share=_times(fault.share, SHARES.get(name, 1.0)))
        for name, fault in model.faults.items()
    }
    checks = {name: _check(name, check) for name, check in model.checks.items()}
    repairs = {
        name: replace(
            repair,
            clears=ReadOnly(
                {
                    fault: replace(number, value=CLEARS.get((name, fault), number.value))
                    for fault, number in repair.clears.items()
                }
            ),
        )
        for name, repair in model.repairs.items()
    }
    return replace(
        model,
        hash=f"harbour {model.hash}",
        site=ReadOnly(site),
        faults=ReadOnly(faults),
        checks=ReadOnly(checks),
        repairs=ReadOnly(repairs),
    )


def _times(number: Any, factor: float) -> Any:
    return replace(number, value=number.value * factor)


def _site(condition: Any, shares: dict[str, float]) -> Any:
    if not shares:
        return condition
    values = condition.values
    rest = sum(value.share.value for name, value in values.items() if name not in shares)
    scale = (1.0 - sum(shares.values())) / rest
    changed = {
        name: replace(
            value,
            share=replace(value.share, value=shares.get(name, value.share.value * scale)),
        )
        for name, value in values.items()
    }
    return replace(condition, values=ReadOnly(changed))


def _check(name: str, check: Any) -> Any:
    observations = {
        key: replace(one, misreading=replace(one.misreading, value=MISREAD[key]))
        if key in MISREAD
        else one
        for key, one in check.observations.items()
    }
    minutes = _times(check.minutes, MINUTES.get(name, 1.0))
    return replace(check, minutes=minutes, observations=ReadOnly(observations))
