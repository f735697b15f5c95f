"""The shop's own figures over a model: rates, prices, van stock, part codes. No probability of a
fault, a mechanism or an observation is touched.

One YAML file, read as strictly as a model:

    currency: EUR
    rates:                          # per minute of work and of waiting, and per event
      attention_per_minute: 1.8
      second_visit: 220
    prices: {injector_set: 21.5}    # by part id
    carrying: {brine_tank: 12}      # what it costs to take a part along on one visit, by part id
    van: [injector_set, seal_kit]   # what the van carries; all other parts are then not in it
    codes: {injector_set: "A 104"}  # the shop's own part codes, shown beside the part
    units: metric                   # or us; how numbers are asked for and shown
    call_back_days: 4               # after a repair whose proof is pending

Every key may be left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import field, fields, replace
from pathlib import Path
from typing import Any, ClassVar, Literal

from brinebayes.errors import ModelError, Problem
from brinebayes.knowledge import cache
from brinebayes.knowledge.frozen import ReadOnly, freeze
from brinebayes.knowledge.hashing import hash_of
from brinebayes.knowledge.names import listed, suggest
from brinebayes.knowledge.schema import STRICT, CheckedModel, Model, Money, Number
from brinebayes.record import record

Units = Literal["us", "metric"]


@record
class RateCard:
    """What time and mistakes cost this shop; what is not given stays the model's."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    attention_per_minute: float | None = None
    waiting_per_minute: float | None = None
    second_visit: float | None = None
    escalation: float | None = None
    fetch_part: float | None = None


@record
class Shop:
    """A shop file. `van` is None if the file does not say what the van carries."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    currency: str | None = None
    rates: RateCard = field(default_factory=RateCard)
    prices: Mapping[str, float] = field(default_factory=dict)
    carrying: Mapping[str, float] = field(default_factory=dict)
    van: tuple[str, ...] | None = None
    codes: Mapping[str, str] = field(default_factory=dict)
    units: Units = "us"
    call_back_days: int | None = None


#: A shop that says nothing.
NO_SHOP = Shop(prices=ReadOnly({}), carrying=ReadOnly({}), codes=ReadOnly({}))

MOST_DAYS = 365


def read_shop(path: Path, model: Model) -> Shop:
    """The shop file at `path`, fit for this model.

    Raises ModelError with every problem and its place.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        says = f"the shop file cannot be read: {error.strerror}"
        raise ModelError((Problem(str(path), 0, 0, "", says),)) from None
    # Through the cache, so that a command that answers fast loads neither a YAML parser nor
    # pydantic; the name of the file is in the key because messages are not kept.
    key = f"{hash_of({str(path): content})} {model.hash}"
    return cache.remember("shop", key, lambda: read_bytes(content, str(path), model))


def read_bytes(content: bytes, name: str, model: Model) -> Shop:
    """The shop whose file has this content; `name` is for messages. Raises ModelError."""
    from brinebayes.knowledge import shape, yaml_strict

    try:
        document = yaml_strict.load(name, content.decode("utf-8"))
    except UnicodeDecodeError:
        raise ModelError(
            (Problem(name, 0, 0, "", "not UTF-8; save it in that encoding"),)
        ) from None
    problems = list(document.problems)
    if document.data is None:
        raise ModelError(tuple(problems))
    shop, findings = shape.fits_class(name, Shop, document.data)
    found = [(finding.path, finding.on_key, finding.missing, finding.says) for finding in findings]
    if shop is not None:
        found += [(path, False, "", says) for path, says in _unfit(shop, model)]
    for path, on_key, missing, says in found:
        at = yaml_strict.place(document.root, path, on_key)
        shown = (*path, missing) if missing else path
        problems.append(Problem(name, at.line, at.column, yaml_strict.path_text(shown), says))
    if problems or shop is None:
        raise ModelError(tuple(sorted(problems, key=lambda p: (p.line, p.column))))
    checked: Shop = freeze(shop)
    return checked


def apply(checked: CheckedModel, shop: Shop) -> CheckedModel:
    """The model with the shop's figures in the place of its own.

    What was proven of it stays proven: no probability, setup, move or rule changes, only what time
    and parts cost, whether they are at hand, and the units in which numbers are shown.
    The hash stays that of the model's own files.
    """
    model = checked.model
    rates = {each.name: getattr(shop.rates, each.name) for each in fields(RateCard)}
    money = replace(
        model.about.money,
        **{
            name: _set(getattr(model.about.money, name), value)
            for name, value in rates.items()
            if value is not None
        },
    )
    parts = {}
    for name, part in model.parts.items():
        if name in shop.prices:
            part = replace(part, price=_set(part.price, shop.prices[name]))
        if name in shop.carrying:
            # A part of a model that does not count it takes its basis from the price.
            part = replace(part, carrying=_set(part.carrying or part.price, shop.carrying[name]))
        if shop.van is not None:
            part = replace(part, in_van=_set(part.in_van, float(name in shop.van)))
        parts[name] = part
    if shop.units == "metric":
        from brinebayes.knowledge.metric import metric

        model = metric(model)
    about = replace(model.about, money=money, currency=shop.currency or model.about.currency)
    return replace(checked, model=replace(model, about=about, parts=ReadOnly(parts)))


def _set(number: Number, value: float) -> Number:
    return replace(number, value=value, source=None, disputed=None, note="set in the shop file")


def _unfit(shop: Shop, model: Model) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """What does not fit the model, or is out of range, with the path in the file."""
    for each in fields(RateCard):
        value = getattr(shop.rates, each.name)
        if value is not None and not 0.0 <= value < math.inf:
            yield ("rates", each.name), f"money is not negative; this is {value:g}"
    for key, amounts in (("prices", shop.prices), ("carrying", shop.carrying)):
        for part, amount in amounts.items():
            yield from _part(model, (key, part), part)
            if not 0.0 <= amount < math.inf:
                yield (key, part), f"money is not negative; this is {amount:g}"
    for index, part in enumerate(shop.van or ()):
        yield from _part(model, ("van", index), part)
    for part in shop.codes:
        yield from _part(model, ("codes", part), part)
    if shop.call_back_days is not None and not 1 <= shop.call_back_days <= MOST_DAYS:
        says = f"a call-back comes 1 to {MOST_DAYS} days later, not {shop.call_back_days}"
        yield ("call_back_days",), says
    if shop.currency is not None and shop.currency != model.about.currency:
        lacking = [e.name for e in fields(Money) if getattr(shop.rates, e.name) is None]
        lacking += [f"the price of {part}" for part in model.parts if part not in shop.prices]
        lacking += [
            f"the cost of carrying {name}"
            for name, part in model.parts.items()
            if part.carrying is not None and name not in shop.carrying
        ]
        if lacking:
            yield (
                ("currency",),
                f"the model counts in {model.about.currency}; in another currency every amount "
                f"must be given, and these are not: {listed(lacking)}",
            )


def _part(
    model: Model, path: tuple[str | int, ...], part: str
) -> Iterator[tuple[tuple[str | int, ...], str]]:
    if part not in model.parts:
        hint = suggest(part, model.parts) or f" (there are: {listed(model.parts)})"
        yield path, f"there is no part {part} in the model{hint}"
