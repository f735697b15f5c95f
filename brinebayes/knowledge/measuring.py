"""What is read with what, and which measures of the site each comparison looks at.

`readings` computes with these; here they are only named, so that a model that lacks one is refused
when it is read and not when a technician asks.
"""

from __future__ import annotations

from collections.abc import Mapping

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import Comparison, Instrument
from brinebayes.physics.units import Dimension
from brinebayes.record import record


@record
class Written:
    """What may be written for an instrument: a number of one of `units`.

    `gives`: what the number is turned into; the unit of the method is one of that.
    """

    units: tuple[Dimension, ...]
    gives: Dimension


#: Volumes over a time are flows as well, so that a bucket may be told as it was timed.
INSTRUMENTS: Mapping[Instrument, Written] = ReadOnly(
    {
        "timed_bucket": Written(("flow", "volume"), "flow"),
        "level_drop": Written(("length",), "length"),
        "level": Written(("length",), "length"),
        "gauge": Written(("pressure",), "pressure"),
        "vacuum_gauge": Written(("pressure",), "pressure"),
        "hardness_kit": Written(("concentration",), "concentration"),
        "hydrometer": Written(("density", "brine strength"), "brine strength"),
        "conductivity": Written(("conductivity",), "brine strength"),
        "meter_count": Written(("volume",), "volume"),
        "length": Written(("length",), "length"),
        "voltmeter": Written(("voltage",), "voltage"),
        "setting": Written(("concentration",), "concentration"),
    }
)


@record
class Looks:
    """The measures that a comparison needs and those it uses when they are told.

    Measure -> its dimension; empty: one that is told in words.
    """

    of: tuple[Dimension, ...]
    needs: Mapping[str, Dimension | str]
    may_use: Mapping[str, Dimension | str] = ReadOnly({})


_RESIN: dict[str, Dimension | str] = {"tank_diameter": "length", "resin_volume": "volume"}
_TANK: dict[str, Dimension | str] = {"brine_tank_diameter": "length", "level_zone": ""}

COMPARISONS: Mapping[Comparison, Looks] = ReadOnly(
    {
        "unit": Looks(
            ("flow", "length", "pressure", "concentration", "brine strength", "volume", "voltage"),
            ReadOnly({}),
        ),
        "backwash": Looks(
            ("flow",), ReadOnly({"tank_diameter": "length"}), ReadOnly({"backwash_figure": "flow"})
        ),
        "brine_step": Looks(
            ("flow",),
            ReadOnly({**_RESIN, "inlet_pressure": "pressure"}),
            ReadOnly({"brine_step_figure": "flow"}),
        ),
        "brine_fall": Looks(
            ("length",), ReadOnly({**_RESIN, **_TANK}), ReadOnly({"brine_draw_figure": "flow"})
        ),
        "refill": Looks(("flow",), ReadOnly({"refill_figure": "flow"})),
        "standing_brine": Looks(
            ("length",), ReadOnly({**_RESIN, **_TANK, "salt_dose": "concentration"})
        ),
        "saturated_brine": Looks(("brine strength",), ReadOnly({})),
        "brined_bed": Looks(("brine strength",), ReadOnly({})),
        "full_suction": Looks(("pressure",), ReadOnly({})),
        "raw_hardness": Looks(("concentration",), ReadOnly({"raw_hardness": "concentration"})),
        "inlet_pressure": Looks(("pressure",), ReadOnly({"inlet_pressure": "pressure"})),
        "control_voltage": Looks(("voltage",), ReadOnly({"control_voltage": "voltage"})),
        "drawn_water": Looks(("volume",), ReadOnly({"drawn_water": "volume"})),
        "drain_run": Looks(
            ("length",),
            ReadOnly(
                {
                    "tank_diameter": "length",
                    "drain_bore": "length",
                    "drain_rise": "length",
                    "inlet_pressure": "pressure",
                }
            ),
            ReadOnly({"backwash_figure": "flow"}),
        ),
    }
)
