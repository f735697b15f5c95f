"""The shape of a model: one group of classes per model file, in the order of the files.

Plain records, so that a cached model loads without pydantic; `reading` validates the files against
these same classes through pydantic, which also prints their JSON Schema. After reading every
mapping is read-only and every list a tuple.

Names that other parts of the model may refer to (faults, mechanisms, site conditions, checks,
observations, repairs, complaints, rules, moves) share one namespace: an id is unique in a model.
Probabilities are plain fractions, minutes are minutes, money is in the model's currency.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from functools import cached_property
from typing import Any, ClassVar, Literal

from brinebayes.record import record

# Read by pydantic when, and only when, files are validated.
STRICT: dict[str, Any] = {"extra": "forbid", "strict": False}

#: What a reading is taken with; `readings.text` knows what is written for each.
Instrument = Literal[
    "timed_bucket",
    "level_drop",
    "level",
    "gauge",
    "vacuum_gauge",
    "hardness_kit",
    "hydrometer",
    "conductivity",
    "meter_count",
    "length",
    "voltmeter",
    "setting",
]

#: What a reading is compared with; `readings.expected` computes it. `unit`: one of its unit.
Comparison = Literal[
    "unit",
    "backwash",
    "brine_step",
    "brine_fall",
    "refill",
    "standing_brine",
    "saturated_brine",
    "brined_bed",
    "full_suction",
    "raw_hardness",
    "inlet_pressure",
    "control_voltage",
    "drawn_water",
    "drain_run",
]

Basis = Literal["published", "common_practice", "judgement", "learned"]
Who = Literal["customer", "technician", "licensed"]

#: A condition on one parent: the states in which it holds. For a fault: `present` or `absent`.
States = str | tuple[str, ...]
Condition = Mapping[str, States]

FAULT_STATES = ("absent", "present")
#: The proof of model.yaml may be asked for like an observation.
PROOF, PROOF_OUTCOMES = "proof", ("passed", "failed")


# --- numbers -----------------------------------------------------------------------------------


@record
class Dispute:
    """Another value that somebody holds, kept beside ours."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    value: float
    source: str
    note: str = ""


@record
class Number:
    """A value with its reason; `weight` is the equivalent sample size of the belief, in cases."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    value: float
    basis: Basis
    weight: float
    note: str
    source: str | None = None
    disputed: Dispute | None = None
    cases: int | None = None
    learned_on: str | None = None


@record
class Spread:
    """A distribution over named states with one reason; states not named have probability 0.

    Must sum to 1 within 1e-9.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    of: Mapping[str, float]
    basis: Basis
    weight: float
    note: str
    source: str | None = None
    disputed: Dispute | None = None
    cases: int | None = None
    learned_on: str | None = None


# --- model.yaml --------------------------------------------------------------------------------


@record
class Money:
    """What time and mistakes cost the shop, in the model's currency."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    attention_per_minute: Number
    waiting_per_minute: Number
    second_visit: Number
    escalation: Number
    fetch_part: Number


@record
class Proof:
    """The check that the unit works again: minutes, how often it is wrong, the setup it needs."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    how: str
    minutes: Number
    waiting_minutes: Number
    passes_if_works: Number
    passes_if_not: Number
    needs: Condition
    leaves: Mapping[str, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    later: str = ""
    #: Days until what can only be proven later has shown itself, for the call-back date.
    later_days: Number | None = None


@record
class Brine:
    """What stands in the brine tank when a visit begins, and what it takes to bring it back.

    `draws`: full draws; `refill_minutes` of work, `saturation_minutes` of waiting before the next.
    `empty_on`: sites whose tank holds no brine until it is refilled.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    draws: Number
    refill_minutes: Number
    saturation_minutes: Number
    empty_on: Condition = field(default_factory=dict)


@record
class About:
    """model.yaml: the model's name, prices, and what it means that the unit works."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    id: str
    name: str
    version: str
    currency: str
    note: str
    #: Share of calls in which no fault of the unit is present.
    calls_without_fault: Number
    #: The fault that stands for a cause that is not in this model.
    unknown_cause: str
    #: Per mechanism, the states in which the unit does its work; all must hold.
    works: Condition
    money: Money
    proof: Proof
    #: None: brine is not counted, and every draw check may be made at any time.
    brine: Brine | None = None


# --- site.yaml ---------------------------------------------------------------------------------


@record
class SiteValue:
    """One value of a site condition; `share` is the part of all calls with this value."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    share: Number
    #: By fault id: factor on the fault's odds relative to the other values of this condition.
    factors: Mapping[str, Number] = field(default_factory=dict)


@record
class SiteCondition:
    """Something about the site that changes odds or decides what applies."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    question: str
    values: Mapping[str, SiteValue]
    #: The question in words that a customer understands; empty: not one for the phone.
    phone: str = ""


@record
class Word:
    """A word that may stand for the value of a measure.

    `share`: the part of all sites; `factor`: about two in three lie within `value` / and x factor.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    share: Number
    value: Number
    factor: Number


@record
class Measure:
    """Something about the site that is a number, with which readings are compared.

    Either `unit`, `least` and `greatest` (in that unit; beyond them it is refused) and `told`, or
    `words` with their values. Until somebody has told it, half of all sites lie below `middle` and
    about two in three within `middle` / and x `factor`; without these it counts only when told.
    `told`: the same factor for a value that was told.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    question: str
    unit: str = ""
    least: Number | None = None
    greatest: Number | None = None
    told: Number | None = None
    middle: Number | None = None
    factor: Number | None = None
    words: Mapping[str, Word] = field(default_factory=dict)


# --- faults.yaml -------------------------------------------------------------------------------


@record
class Fault:
    """Something that can be wrong; `share` is the part of all calls in which it is present."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    group: str
    share: Number
    meaning: str
    #: By site condition: the values under which the fault can exist. None named: always.
    applies: Condition = field(default_factory=dict)
    #: What the senior technician would expect to see: observation -> outcome (a test holds it).
    typical: Mapping[str, str] = field(default_factory=dict)


# --- mechanisms.yaml ---------------------------------------------------------------------------


@record
class Cause:
    """One way to bring a mechanism into a worse state.

    Holds when every parent in `when` is in one of the named states (one or two parents). `effect`
    says how far it then goes; the part given to the first (best) state is the chance that the
    link does not act.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    when: Condition
    effect: Spread


@record
class Case:
    """One line of a decision list: the first whose `when` holds decides. Empty `when`: always."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    when: Condition
    then: str


@record
class Mechanism:
    """How faults act. `states` run from best to worst. Either `causes` or `cases`, never both.

    `causes`: noisy-MAX; the mechanism is in the worst state that any cause, or the leak, brings
    about. `cases`: a deterministic function of at most three parents, with the reason in `note`.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    states: tuple[str, ...]
    note: str
    causes: tuple[Cause, ...] = ()
    leak: Spread | None = None
    cases: tuple[Case, ...] = ()


# --- checks.yaml -------------------------------------------------------------------------------


@record
class Row:
    """One line of an observation's table: the first whose `when` holds gives the outcomes."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    when: Condition
    gives: Spread


@record
class Limit(Number):
    """Where one outcome ends and the next begins.

    `of` expected: a multiple of what a sound unit on this site gives; unit: in the reading's unit.
    """

    of: Literal["expected", "unit"] = "expected"


@record
class ReadingMethod:
    """How a number with its unit tells the outcomes of its observation apart.

    `scale`: outcomes from the smallest number to the largest, `limits` between neighbours.
    `instrument`: relative standard uncertainty of what was read; `resolution`: standard
    uncertainty near nothing, in `unit`. `figure`: sound units of one size lie within the computed
    figure / and x this factor (none if the figure is the unit's own). A number outside `least` to
    `greatest` (in `unit`) is no reading; one taken earlier than `soon` minutes says nothing yet.
    `elsewhere`: how units would measure that show an outcome which is not on the scale.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    kind: Instrument
    unit: str
    compare: Comparison
    scale: tuple[str, ...]
    limits: tuple[Limit, ...]
    instrument: Number
    resolution: Number
    least: Number
    greatest: Number
    figure: Number | None = None
    soon: Number | None = None
    elsewhere: Mapping[str, Spread] = field(default_factory=dict)


@record
class Observation:
    """What can be seen or measured; `rows` must cover every combination of parent states.

    Parents are the ids named in `rows` (faults, mechanisms or site conditions, at most three).
    `misreading` is mixed in evenly over all outcomes: P = (1 - m) row + m / outcomes.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    question: str
    outcomes: Mapping[str, str]
    rows: tuple[Row, ...]
    misreading: Number
    #: True: speaks of the weeks before the visit, whatever was repaired since.
    history: bool = False
    #: None: told in words only.
    reading: ReadingMethod | None = None
    #: The question in words that a customer understands; empty: `question` will do.
    phone: str = ""


@record
class Check:
    """Something to do that yields one or more observations.

    `minutes` of attention, `waiting_minutes` in which other checks may run; access belongs to the
    route and is not counted here. `needs` and `leaves` speak of setups.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    minutes: Number
    waiting_minutes: Number
    who: Who
    observations: Mapping[str, Observation]
    how: str
    needs: Condition = field(default_factory=dict)
    leaves: Mapping[str, str] = field(default_factory=dict)
    tools: tuple[str, ...] = ()
    #: Brine draws that the check spends.
    spends_brine: float = 0.0
    #: Checks whose wait it spoils although the setup stays as it is.
    disturbs: tuple[str, ...] = ()
    applies: Condition = field(default_factory=dict)
    cautions: tuple[str, ...] = ()


# --- repairs.yaml ------------------------------------------------------------------------------


@record
class Part:
    """A class of part with its price and the chance that it is in the van."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    price: Number
    in_van: Number
    #: What it costs to take the part along on one visit and bring it back unused (loading, room,
    #: damage, money tied up), in the model's currency. None: nothing worth counting.
    carrying: Number | None = None


@record
class Repair:
    """What clears faults, how surely, at what price, and what harm it may do."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    kind: Literal["R0", "R1", "R2", "R3", "R4", "LP"]
    minutes: Number
    who: Who
    how: str
    #: By fault id: probability that the repair clears it.
    clears: Mapping[str, Number]
    #: True: a second try shares the luck of the first.
    same_luck: bool
    #: By fault id: probability that the repair brings the fault about.
    harms: Mapping[str, Number] = field(default_factory=dict)
    parts: tuple[str, ...] = ()
    needs: Condition = field(default_factory=dict)
    leaves: Mapping[str, str] = field(default_factory=dict)
    applies: Condition = field(default_factory=dict)
    also_do: str = ""
    proven_now: str = ""
    proven_later: str = ""
    cautions: tuple[str, ...] = ()


# --- setups.yaml -------------------------------------------------------------------------------


@record
class SetupVariable:
    """One part of the state the unit is in; `worst` is assumed while it is not known."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    values: Mapping[str, str]
    worst: str
    #: The value in which the unit is handed back.
    service: str
    #: The value that a unit shows at a glance when nobody has worked on it in this visit; empty:
    #: it does not show, and the worst is assumed from the start.
    found: str = ""


@record
class Move:
    """One step between setups, allowed where `needs` holds; it sets what `leaves` names."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    needs: Condition
    leaves: Mapping[str, str]
    minutes: Number
    waiting_minutes: Number | None = None
    cautions: tuple[str, ...] = ()


@record
class Invariant:
    """A combination that must never occur on any route, and why."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    never: Condition
    reason: str


@record
class Setups:
    """setups.yaml: the states the unit can be in, the moves between them, what must never be."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    variables: Mapping[str, SetupVariable]
    moves: Mapping[str, Move]
    invariants: Mapping[str, Invariant]
    #: In what setup the unit may be left to wait for a licensed trade. Empty: any safe one.
    parked: Condition = field(default_factory=dict)


# --- rules.yaml --------------------------------------------------------------------------------


@record
class When:
    """Holds when every named part holds; an empty part is not asked. Of several values any will do.

    Holds always if nothing is named.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    #: Observation -> outcome or outcomes: seen since the last repair (history: ever).
    saw: Condition = field(default_factory=dict)
    #: Observations that have not been made yet.
    not_seen: tuple[str, ...] = ()
    site: Condition = field(default_factory=dict)
    #: Complaints, any of which was made.
    complaint: tuple[str, ...] = ()
    #: Repairs, any of which was done.
    done: tuple[str, ...] = ()
    #: So many proofs have failed on this visit, or more.
    failed: int = 0


@record
class Rule:
    """A declarative rule; `reason` is shown whenever it acts.

    kind       what it does
    excludes   removes `acts` from the candidates (not applicable, or of no use now)
    settles    removes `acts`: their answer is already known; nothing is entered as evidence
    first      holds back `acts` until every observation in `until` has been made
    doubts     challenges what was seen (implausible, or taken too early) and offers it again
    make_safe  advice to the customer, shown before anything else; `moves` he is asked to make
    escalates  offers the licensed trade named in `to` and says why
    duty       a defect to report that is not taken as the cause
    outside    this is not a softener fault; says what it is
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    kind: Literal[
        "excludes", "settles", "first", "doubts", "make_safe", "escalates", "duty", "outside"
    ]
    when: When
    reason: str
    basis: Basis
    acts: tuple[str, ...] = ()
    until: tuple[str, ...] = ()
    to: str = ""
    source: str | None = None
    #: Moves that the advice asks of the customer, whose cautions are then read out too.
    moves: tuple[str, ...] = ()


# --- flow_chart.yaml ----------------------------------------------------------------------------


@record
class ChartStep:
    """One step of a flow chart: a check, a repair, `finish` or `escalate`.

    `when`: what was last seen on this visit, or is known of the site; empty: always.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    do: str
    when: Condition = field(default_factory=dict)


@record
class FlowChart:
    """The fixed order that advice is measured against; `basis` holds for the whole of it.

    A complaint names sections in their order, `otherwise` those where it has none of its own. Of
    their steps the first is taken that holds and whose act was not done on this visit. A proof
    follows each repair; after `give_up_after` failed ones, or at the end, the case is passed on.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    note: str
    basis: Basis
    give_up_after: Number
    complaints: Mapping[str, tuple[str, ...]]
    otherwise: tuple[str, ...]
    sections: Mapping[str, tuple[ChartStep, ...]]


# --- complaints.yaml, sources.yaml -------------------------------------------------------------


@record
class Complaint:
    """What customers say; `rows` give the outcomes `said` and `not_said`, given a call was made."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: str
    words: tuple[str, ...]
    rows: tuple[Row, ...]


@record
class Source:
    """Where a published number comes from; `from_memory` says it was not looked up again."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    citation: str
    from_memory: bool = False


# --- the whole ---------------------------------------------------------------------------------


@record
class Model:
    """A well-formed model: every file read, every reference resolved, every row summing to 1.

    `hash` is the SHA-256 of the files' content, in hexadecimal.
    """

    hash: str
    about: About
    site: Mapping[str, SiteCondition]
    faults: Mapping[str, Fault]
    mechanisms: Mapping[str, Mechanism]
    checks: Mapping[str, Check]
    parts: Mapping[str, Part]
    repairs: Mapping[str, Repair]
    setups: Setups
    rules: Mapping[str, Rule]
    complaints: Mapping[str, Complaint]
    sources: Mapping[str, Source]
    measures: Mapping[str, Measure] = field(default_factory=dict)
    flow_chart: FlowChart | None = None

    def observation(self, name: str) -> Observation:
        """The observation of this id, whichever check yields it. Raises KeyError."""
        return self.checks[self.check_of[name]].observations[name]

    @cached_property
    def check_of(self) -> Mapping[str, str]:
        """Observation -> the check that yields it, in the order of the files."""
        return {name: id for id, check in self.checks.items() for name in check.observations}


@record
class CheckedModel:
    """A model that `checking` has proven; nothing else may make one.

    `findings` are the warnings that remained, as lines for a reader.
    """

    model: Model
    findings: tuple[str, ...]


#: File name -> the fields of `Model` it fills, each a key at its top (`about`: the whole file).
#: A field with a default may be left out of its file, and a file of such fields altogether.
FILES: Mapping[str, tuple[str, ...]] = {
    "model.yaml": ("about",),
    "site.yaml": ("site", "measures"),
    "faults.yaml": ("faults",),
    "mechanisms.yaml": ("mechanisms",),
    "checks.yaml": ("checks",),
    "repairs.yaml": ("parts", "repairs"),
    "setups.yaml": ("setups",),
    "rules.yaml": ("rules",),
    "complaints.yaml": ("complaints",),
    "flow_chart.yaml": ("flow_chart",),
    "sources.yaml": ("sources",),
}
