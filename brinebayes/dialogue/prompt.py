"""What the technician is asked, as data; `wording` makes a screen of it."""

from __future__ import annotations

from typing import Literal

from brinebayes.advice.choose import Valued
from brinebayes.record import record
from brinebayes.setups.routes import Route

Kind = Literal[
    "complaint",  # what does the customer say? one at a time
    "make_safe",  # advice of a rule that comes before all else
    "site",  # a first question about the place
    "setup",  # does the unit stand as usual?
    "part",  # how does one part of it stand?
    "check",  # do this check; the first of its questions
    "question",  # the next question of a check that has been begun
    "repair",
    "fetch",
    "prove",
    "licensed",  # a repair for a licensed trade
    "finish",
    "escalate",
    "choose",  # a list of acts to choose from
    "which_end",
    "to_whom",
    "leaving",  # the list for leaving the site
    "call_back",
    "stuck",  # no advice is possible until something is put right
    "closed",
]


@record
class Option:
    """One of the numbered answers. `text` is in words of the model; empty: a template has them."""

    id: str
    text: str = ""


@record
class Prompt:
    """One question with its numbered answers.

    `subject`: the act, site condition or rule that it is about. `observation`: what a check's
    answers are about. `valued`: the act with its price and worth, where one is proposed. `route`:
    the way that has to be gone first. `refill`: minutes of work and of waiting for brine before
    it. `running`: a check that waits in the background. `meanwhile`: what could be done while this
    check waits. `variables`: the parts of the unit to look at (setup). `text`: what stands in the
    way (stuck), or a default (to_whom, call_back).
    """

    kind: Kind
    subject: str = ""
    options: tuple[Option, ...] = ()
    observation: str = ""
    valued: Valued | None = None
    route: Route | None = None
    refill: tuple[float, float] = (0.0, 0.0)
    running: str = ""
    meanwhile: tuple[str, ...] = ()
    variables: tuple[str, ...] = ()
    text: str = ""
