"""Plain data by the rules of YAML 1.2, checked against the specification and another reader."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.knowledge import yaml_strict
from brinebayes.knowledge.schema import FILES

SMALL = Path(__file__).parents[1] / "models" / "small"


def value(text: str) -> object:
    document = yaml_strict.load("f.yaml", f"key: {text}\n")
    assert document.problems == ()
    return document.data["key"]


class TestResolve:
    """Source: YAML 1.2.2, section 10.3.2, table of the core schema and example 10.9."""

    @pytest.mark.parametrize("word", ["null", "Null", "NULL", "~", ""])
    def test_null(self, word: str) -> None:
        assert yaml_strict.resolve(word) is None

    @pytest.mark.parametrize(
        ("word", "meant"), [("true", True), ("True", True), ("false", False), ("FALSE", False)]
    )
    def test_booleans(self, word: str, meant: bool) -> None:
        assert yaml_strict.resolve(word) is meant

    @pytest.mark.parametrize(
        ("word", "meant"), [("0", 0), ("0o7", 7), ("0x3A", 58), ("-19", -19), ("010", 10)]
    )
    def test_integers(self, word: str, meant: int) -> None:
        found = yaml_strict.resolve(word)
        assert found == meant
        assert type(found) is int

    @pytest.mark.parametrize(
        ("word", "meant"),
        [
            ("0.", 0.0),
            ("-0.0", -0.0),
            (".5", 0.5),
            ("+12e03", 12000.0),
            ("-2E+05", -200000.0),
            ("5e-2", 0.05),
        ],
    )
    def test_floats(self, word: str, meant: float) -> None:
        found = yaml_strict.resolve(word)
        assert repr(found) == repr(meant)

    @pytest.mark.parametrize("word", [".inf", "-.Inf", "+.INF", ".NAN", "1e999", "1" * 500])
    def test_refused(self, word: str) -> None:
        with pytest.raises(ValueError, match="number"):
            yaml_strict.resolve(word)

    def test_words_stay_words(self) -> None:
        words = (
            "on off Off ON yes no y n 1:30 12:30:45 1_000 0b1 0,5 2024-05-31 = 1.2.3 e5 "
            ". - + tRUE １ --1 1e 0x 0o8 +0x1 .e1 inf nan NaN None"
        )
        for word in (*words.split(), "10 min", "5\n", "true\n"):
            assert yaml_strict.resolve(word) == word

    @given(st.floats(allow_nan=False, allow_infinity=False))
    def test_every_float_as_python_writes_it(self, number: float) -> None:
        assert repr(yaml_strict.resolve(repr(number))) == repr(number)

    @given(st.integers(-(10**30), 10**30))
    def test_every_integer(self, number: int) -> None:
        assert yaml_strict.resolve(str(number)) == number


class TestLoad:
    """From text to data; what is refused is tested with the mistakes of whole models."""

    @pytest.mark.parametrize("text", ["'5'", '"5"', "'on'", "'null'", "''", "|\n  5", ">-\n  5"])
    def test_quoted_and_block_text_is_text(self, text: str) -> None:
        assert isinstance(value(text), str)

    def test_quoted_keys_are_words(self) -> None:
        assert yaml_strict.load("f", "'1': a\n\"true\": b\n").data == {"1": "a", "true": "b"}

    @pytest.mark.parametrize("text", ["a & b", "2 * 3", "no! never", "100 % sure", "a#b", "*"])
    def test_signs_within_text(self, text: str) -> None:
        document = yaml_strict.load("f", f"key: [x {text}]\n")
        assert document.problems == ()
        assert document.data == {"key": [f"x {text}"]}

    @pytest.mark.parametrize("text", ["&a b", "*a", "!x b", "[&a b]", "{k: *a}", "- &a b"])
    def test_odd_tokens_are_found_wherever_they_stand(self, text: str) -> None:
        document = yaml_strict.load("f", f"key:\n  {text}\n")
        assert document.data is None
        assert "not used here" in str(document.problems[0])
        assert document.problems[0].line == 2
        assert document.problems[0].column == 3 + max(text.find(sign) for sign in "&*!")

    def test_directive(self) -> None:
        document = yaml_strict.load("f", "%YAML 1.1\n---\nkey: off\n")
        assert "directives" in str(document.problems[0])

    def test_byte_order_mark(self) -> None:
        assert yaml_strict.load("f", "\ufeffkey: 1\n").data == {"key": 1}

    @pytest.mark.parametrize("file", FILES)
    def test_without_the_c_library(self, file: str, monkeypatch: pytest.MonkeyPatch) -> None:
        """Where PyYAML was built without it, its own loader gives the same data and places."""
        text = (SMALL / file).read_text("utf-8")
        fast = yaml_strict.load(file, text)
        monkeypatch.delattr(yaml, "CSafeLoader")
        slow = yaml_strict.load(file, text)
        assert slow.data == fast.data
        for path in ((), *((key,) for key in fast.data)):
            assert yaml_strict.place(slow.root, path) == yaml_strict.place(fast.root, path)

    @given(st.text(st.characters(codec="utf-8"), max_size=60))
    def test_any_text_is_read_or_refused(self, text: str) -> None:
        document = yaml_strict.load("f", text)
        assert document.problems or document.root is not None

    @given(st.text("ab:-[]{},&*!|>#'\"\n \t?%~<1.", max_size=40))
    def test_any_signs_of_yaml_are_read_or_refused(self, text: str) -> None:
        document = yaml_strict.load("f", text)
        assert document.problems or document.root is not None

    @pytest.mark.parametrize("file", FILES)
    def test_agrees_with_another_reader_of_yaml_1_2(self, file: str) -> None:
        """ruamel.yaml follows YAML 1.2 and is not used by the package for reading."""
        from ruamel.yaml import YAML

        text = (SMALL / file).read_text("utf-8")
        assert yaml_strict.load(file, text).data == YAML(typ="safe", pure=True).load(text)


class TestPlace:
    """Where things stand, from 1, and as indices into the text."""

    TEXT = "top:\n  list: [a, {b: 'ü 1', c: 22}]\n  more:\n    - x: 1\n"

    @pytest.mark.parametrize(
        ("path", "line", "column", "span"),
        [
            (("top", "list"), 2, 9, "[a, {b: 'ü 1', c: 22}]"),
            (("top", "list", 1, "b"), 2, 17, "'ü 1'"),
            (("top", "list", 1, "c"), 2, 27, "22"),
            (("top", "more", 0, "x"), 4, 10, "1"),
        ],
    )
    def test_of_a_value(self, path: yaml_strict.Path, line: int, column: int, span: str) -> None:
        root = yaml_strict.load("f", self.TEXT).root
        at = yaml_strict.place(root, path)
        assert (at.line, at.column) == (line, column)
        assert self.TEXT[at.start : at.end] == span

    def test_of_a_key(self) -> None:
        root = yaml_strict.load("f", self.TEXT).root
        at = yaml_strict.place(root, ("top", "more"), on_key=True)
        assert (at.line, at.column) == (3, 3)

    def test_of_what_is_not_there_is_the_nearest_above(self) -> None:
        root = yaml_strict.load("f", self.TEXT).root
        at = yaml_strict.place(root, ("top", "more", 0, "y", "z"))
        assert (at.line, at.column) == (4, 7)

    def test_path_as_text(self) -> None:
        assert yaml_strict.path_text(("a", "b", 0, "c")) == "a.b[0].c"
        assert yaml_strict.path_text(()) == ""
