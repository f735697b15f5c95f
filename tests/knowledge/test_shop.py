"""The shop's figures over a model: read strictly, and no probability moves."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from brinebayes.errors import ModelError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import CheckedModel, Model, Number
from brinebayes.knowledge.shop import NO_SHOP, Shop, apply, read_bytes, read_shop

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"
WHOLE = """
currency: CHF
rates:
  attention_per_minute: 2
  waiting_per_minute: 0.5
  second_visit: 200
  escalation: 100
  fetch_part: 30
prices: {seal_kit: 33.5}
van: []
codes: {seal_kit: "S 17"}
units: metric
call_back_days: 9
"""


@pytest.fixture(scope="module")
def model() -> Model:
    return read_model(SMALL)


def read(text: str, model: Model) -> Shop:
    return read_bytes(text.encode(), "shop.yaml", model)


class TestReadShop:
    """Every key may be left out; whatever stands there must be right."""

    def test_everything(self, model: Model) -> None:
        shop = read(WHOLE, model)
        assert shop.currency == "CHF"
        assert shop.rates.attention_per_minute == 2.0
        assert shop.prices == {"seal_kit": 33.5}
        assert shop.van == ()
        assert shop.codes == {"seal_kit": "S 17"}
        assert (shop.units, shop.call_back_days) == ("metric", 9)

    def test_one_key(self, model: Model) -> None:
        shop = read("call_back_days: 2\n", model)
        assert shop == replace(NO_SHOP, call_back_days=2)

    @pytest.mark.parametrize(
        ("text", "place", "words"),
        [
            ("", "shop.yaml", "the file is empty"),
            ("- a\n", "shop.yaml:1:1", "must be a mapping with currency, rates, prices"),
            ("van: [seal_kit\n", "shop.yaml:2:1", "not YAML"),
            ("curency: EUR\n", "shop.yaml:1:1", "unknown key (did you mean currency?)"),
            ("rates: {second_visitt: 3}\n", "shop.yaml:1:9", "did you mean second_visit?"),
            ("rates: {escalation: dear}\n", "shop.yaml:1:21", "must be a number, not the text"),
            ("rates: {escalation: '3'}\n", "shop.yaml:1:21", "without quotes"),
            ("rates: {escalation: -3}\n", "shop.yaml:1:21", "money is not negative; this is -3"),
            ("prices: {seal_kit: -3}\n", "shop.yaml:1:20", "money is not negative; this is -3"),
            ("prices: {seal_kid: 3}\n", "shop.yaml:1:20", "no part seal_kid in the model (did you"),
            ("van: [seal_kit, pump]\n", "shop.yaml:1:17", "no part pump in the model (there are:"),
            ("van: seal_kit\n", "shop.yaml:1:6", "must be a list"),
            ("carrying: {pump: 3}\n", "shop.yaml:1:18", "no part pump"),
            ("carrying: {seal_kit: -3}\n", "shop.yaml:1:22", "money is not negative; this is -3"),
            ("codes: {pump: x}\n", "shop.yaml:1:15", "no part pump"),
            ("codes: {seal_kit: 17}\n", "shop.yaml:1:19", "put it in quotes if it is text"),
            ("units: imperial\n", "shop.yaml:1:8", "must be one of us, metric"),
            ("call_back_days: 0\n", "shop.yaml:1:17", "1 to 365 days later, not 0"),
            ("call_back_days: 1.5\n", "shop.yaml:1:17", "must be a whole number"),
            ("call_back_days: 2\ncall_back_days: 3\n", "shop.yaml:2:1", "already given in line 1"),
            (
                "currency: CHF\nrates: {second_visit: 3, escalation: 2, fetch_part: 1}\n",
                "shop.yaml:1:11",
                "these are not: attention_per_minute, waiting_per_minute, the price of seal_kit",
            ),
        ],
    )
    def test_mistakes(self, model: Model, text: str, place: str, words: str) -> None:
        with pytest.raises(ModelError) as refusal:
            read(text, model)
        assert str(refusal.value).startswith(f"{place}:")
        assert words in str(refusal.value)

    def test_all_mistakes_at_once(self, model: Model) -> None:
        with pytest.raises(ModelError) as refusal:
            read("prices: {a: 1, seal_kit: -1}\nvan: [b]\n", model)
        assert [problem.line for problem in refusal.value.problems] == [1, 1, 2]

    def test_not_text(self, model: Model) -> None:
        with pytest.raises(ModelError, match="not UTF-8"):
            read_bytes(b"\xff", "shop.yaml", model)

    def test_a_file_that_is_not_there(self, model: Model, tmp_path: Path) -> None:
        with pytest.raises(ModelError, match="cannot be read: No such file or directory"):
            read_shop(tmp_path / "shop.yaml", model)

    def test_a_file(self, model: Model, tmp_path: Path) -> None:
        path = tmp_path / "shop.yaml"
        path.write_text(WHOLE)
        assert read_shop(path, model) == read_shop(path, model) == read(WHOLE, model)


def numbers(item: Any, path: tuple[Any, ...] = ()) -> dict[tuple[Any, ...], float]:
    """Every number of a model by its path."""
    if isinstance(item, Number):
        return {path: item.value}
    if is_dataclass(item):
        steps = {field.name: getattr(item, field.name) for field in fields(item)}
    elif hasattr(item, "items"):
        steps = dict(item.items())
    elif isinstance(item, tuple):
        steps = dict(enumerate(item))
    else:
        return {path: item} if isinstance(item, float) else {}
    return {k: v for key, value in steps.items() for k, v in numbers(value, (*path, key)).items()}


class TestApply:
    """The shop's amounts take the place of the model's, and nothing else changes."""

    def test_only_money_and_van_stock_change(self, model: Model) -> None:
        before = numbers(model)
        shop = replace(read(WHOLE, model), units="us")
        after = numbers(apply(CheckedModel(model, ()), shop).model)
        changed = {path: after[path] for path in before if before[path] != after[path]}
        assert changed == {
            ("about", "money", "attention_per_minute"): 2.0,
            ("about", "money", "waiting_per_minute"): 0.5,
            ("about", "money", "second_visit"): 200.0,
            ("about", "money", "escalation"): 100.0,
            ("about", "money", "fetch_part"): 30.0,
            ("parts", "seal_kit", "price"): 33.5,
            ("parts", "seal_kit", "in_van"): 0.0,
        }
        assert before.keys() == after.keys()

    def test_metric_units(self, model: Model) -> None:
        """Numbers are shown in metric units, see test_metric; the US shop sees the model's own."""
        after = apply(CheckedModel(model, ()), read("units: metric", model)).model
        assert model.measures["raw_hardness"].unit == "gpg"
        assert after.measures["raw_hardness"].unit == "mg/L"

    def test_currency_and_reason(self, model: Model) -> None:
        after = apply(CheckedModel(model, ()), read(WHOLE, model)).model
        assert after.about.currency == "CHF"
        assert after.parts["seal_kit"].price.note == "set in the shop file"
        assert after.hash == model.hash

    def test_carrying(self, model: Model) -> None:
        after = apply(CheckedModel(model, ()), replace(NO_SHOP, carrying={"seal_kit": 1.5})).model
        carrying = after.parts["seal_kit"].carrying
        assert carrying is not None
        assert (carrying.value, carrying.note) == (1.5, "set in the shop file")

    def test_another_currency_needs_what_carrying_costs(self, model: Model) -> None:
        part = model.parts["seal_kit"]
        counted = replace(model, parts={"seal_kit": replace(part, carrying=part.price)})
        with pytest.raises(ModelError, match="the cost of carrying seal_kit"):
            read(WHOLE, counted)

    @pytest.mark.parametrize(("van", "chance"), [(None, 0.8), ((), 0.0), (("seal_kit",), 1.0)])
    def test_the_van(self, model: Model, van: tuple[str, ...] | None, chance: float) -> None:
        after = apply(CheckedModel(model, ("a finding",)), replace(NO_SHOP, van=van))
        assert after.model.parts["seal_kit"].in_van.value == chance
        assert after.findings == ("a finding",)

    def test_a_shop_that_says_nothing_changes_nothing(self, model: Model) -> None:
        assert apply(CheckedModel(model, ()), NO_SHOP).model == model
