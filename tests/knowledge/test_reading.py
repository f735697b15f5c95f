"""One broken model per mistake, and the good model that holds none."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.errors import ModelError, Problem, UsageError
from brinebayes.knowledge import hashing, reading
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import FILES, Case, Dispute
from brinebayes.knowledge.shipped import model_folder

SMALL = Path(__file__).parents[1] / "models" / "small"
MISTAKES: list[dict[str, Any]] = yaml.safe_load(
    (Path(__file__).parent / "mistakes.yaml").read_text("utf-8")
)
MARK = "‸"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the small model to break."""
    return Path(shutil.copytree(SMALL, tmp_path / "small"))


def problems_of(folder: Path) -> tuple[Problem, ...]:
    with pytest.raises(ModelError) as caught:
        reading.read_model(folder)
    return caught.value.problems


def place_in(text: str, at: int) -> tuple[int, int]:
    return text.count("\n", 0, at) + 1, at - (text.rfind("\n", 0, at) + 1) + 1


def make(folder: Path, mistake: dict[str, Any]) -> tuple[int, int]:
    """Make the mistake and say where its problem must be placed."""
    path = folder / mistake["file"]
    if mistake.get("remove"):
        path.unlink()
        return 0, 0
    if "whole" in mistake:
        text = mistake["whole"]
    else:
        text = path.read_text("utf-8")
        assert text.count(mistake["replace"]) == 1, "the text to replace must occur once"
        text = text.replace(mistake["replace"], mistake["by"])
    clean = text.replace(MARK, "")
    path.write_text(clean, "utf-8")
    where = mistake.get("place")
    if where == "whole file":
        return 0, 0
    if where is None:
        assert text.count(MARK) == 1, "the mistake must mark one place"
        return place_in(clean, text.index(MARK))
    if "after" in where:
        return place_in(clean, clean.index(where["after"]) + len(where["after"]))
    return place_in(clean, clean.index(where["before"]))


class TestMistakes:
    """What is wrong is said with its place and in words that help."""

    @pytest.mark.parametrize("mistake", MISTAKES, ids=[m["name"] for m in MISTAKES])
    def test_is_refused(self, folder: Path, mistake: dict[str, Any]) -> None:
        place = make(folder, mistake)
        problems = problems_of(folder)
        assert len(problems) == mistake.get("problems", 1), "\n".join(map(str, problems))
        at_place = [p for p in problems if (p.file, p.line, p.column) == (mistake["file"], *place)]
        assert at_place, f"wanted {place}, got\n" + "\n".join(map(str, problems))
        said = str(at_place[0])
        assert all(word in said for word in mistake["says"]), said

    def test_names_are_unique(self) -> None:
        names = [mistake["name"] for mistake in MISTAKES]
        assert len(set(names)) == len(names)

    def test_not_utf8(self, folder: Path) -> None:
        path = folder / "sources.yaml"
        path.write_bytes(path.read_bytes().replace(b"no such book", b"no such b\xfcok"))
        (problem,) = problems_of(folder)
        assert (problem.line, problem.column) == (4, 57)
        assert "not UTF-8" in str(problem)

    def test_all_files_at_once_in_file_order(self, folder: Path) -> None:
        for file in ("sources.yaml", "checks.yaml", "site.yaml"):
            path = folder / file
            path.write_text(path.read_text("utf-8") + "extra: 1\n", "utf-8")
        (folder / "faults.yaml").write_text("faults: [", "utf-8")
        (folder / "rules.yaml").unlink()
        found = [problem.file for problem in problems_of(folder)]
        assert found == ["site.yaml", "faults.yaml", "checks.yaml", "rules.yaml", "sources.yaml"]

    def test_lines_of_one_file_in_order(self, folder: Path) -> None:
        path = folder / "checks.yaml"
        path.write_text(path.read_text("utf-8").replace("basis: judgement, ", ""), "utf-8")
        lines = [problem.line for problem in problems_of(folder)]
        assert len(lines) > 10
        assert lines == sorted(lines)

    def test_deep_nesting_is_no_crash(self, folder: Path) -> None:
        (folder / "sources.yaml").write_text("sources: " + "[" * 900 + "]" * 900, "utf-8")
        assert any("nested far too deeply" in str(problem) for problem in problems_of(folder))

    def test_no_folder(self, tmp_path: Path) -> None:
        with pytest.raises(UsageError, match="no model can be read there"):
            reading.read_model(tmp_path / "nowhere")

    def test_no_model_in_folder(self, tmp_path: Path) -> None:
        (problem,) = problems_of(tmp_path)
        assert "no model files" in str(problem)
        assert "checks.yaml" in str(problem)


class TestAnyDamage:
    """Whatever is done to a file: it is read, or it is refused with a place; never a crash."""

    @given(data=st.data())
    def test_a_line_gone_doubled_moved_or_changed(self, data: st.DataObject) -> None:
        files = {name: (SMALL / name).read_bytes() for name in FILES}
        name = data.draw(st.sampled_from(list(FILES)))
        lines = files[name].decode("utf-8").splitlines(keepends=True)
        index = data.draw(st.integers(1, len(lines) - 1))
        odd = ["x", "[]", "{}", "[a, 1]", "{a: b}", "-1", "1e300", "true", "''", "level", "none"]
        new = data.draw(st.sampled_from(odd))
        line = lines[index]
        changed = {
            "gone": "",
            "doubled": line + line,
            "deeper": "  " + line,
            "higher": line.removeprefix("  "),
            "value": line.partition(":")[0] + f": {new}\n",
            "first value": re.sub(r"(: )[^{}\[\],:]+([,}])", rf"\g<1>{new}\2", line, count=1),
            "first key": re.sub(r"[a-z_]+:", f"{new}:", line, count=1),
        }
        lines[index] = changed[data.draw(st.sampled_from(sorted(changed)))]
        files[name] = "".join(lines).encode("utf-8")
        problems: tuple[Problem, ...] | None = None
        try:
            reading.read_bytes(files)
        except ModelError as error:
            problems = error.problems
        if problems is not None:
            assert problems
            assert all(problem.line > 0 for problem in problems)


class TestReadModel:
    """The good model is read as it stands."""

    def test_holds_no_problem(self) -> None:
        model = reading.read_model(SMALL)
        assert model.about.id == "small"
        assert model.hash == hashing.model_hash(SMALL)
        assert list(model.faults) == [
            "injector_clogged",
            "brine_line_blocked",
            "seals_worn",
            "other_cause",
        ]
        assert model.mechanisms["draw"].cases[1] == Case(when={"suction": "high"}, then="good")

    def test_the_shipped_model_holds_no_problem(self) -> None:
        assert reading.read_model(model_folder()).about.id == "softener"

    def test_on_and_off_are_words(self) -> None:
        variables = reading.read_model(SMALL).setups.variables
        assert list(variables["cover"].values) == ["on", "off"]

    def test_every_mapping_is_read_only_and_every_list_a_tuple(self) -> None:
        kinds: set[type] = set()

        def look(value: object) -> None:
            kinds.add(type(value))
            for child in (
                vars(value).values()
                if hasattr(value, "__dataclass_fields__")
                else value.values()
                if isinstance(value, ReadOnly)
                else value
                if isinstance(value, tuple)
                else ()
            ):
                look(child)

        look(reading.read_model(SMALL))
        plain = {each for each in kinds if not hasattr(each, "__dataclass_fields__")}
        assert plain == {ReadOnly, tuple, str, float, int, bool, type(None)}

    def test_a_dispute_is_kept(self, folder: Path) -> None:
        path = folder / "faults.yaml"
        text = path.read_text("utf-8").replace(
            "{value: 0.25,",
            "{value: 0.25, disputed: {value: 0.4, source: invented_handbook, note: more},",
        )
        path.write_text(text, "utf-8")
        share = reading.read_model(folder).faults["brine_line_blocked"].share
        assert share.disputed == Dispute(value=0.4, source="invented_handbook", note="more")

    def test_other_files_beside_the_model_are_left_alone(self, folder: Path) -> None:
        (folder / "README.md").write_text("about: this", "utf-8")
        (folder / ".checks.yaml").write_text("[", "utf-8")
        assert reading.read_model(folder).hash == hashing.model_hash(SMALL)

    def test_a_model_need_not_have_a_flow_chart(self, folder: Path) -> None:
        assert reading.read_model(folder).flow_chart is not None
        (folder / "flow_chart.yaml").unlink()
        assert reading.read_model(folder).flow_chart is None

    def test_windows_line_ends(self, folder: Path) -> None:
        for name in FILES:
            path = folder / name
            path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
        assert reading.read_model(folder).faults == reading.read_model(SMALL).faults


class TestJsonSchema:
    """Editors are told the same shape that reading demands."""

    @pytest.mark.parametrize("file", FILES)
    def test_is_closed_and_names_what_is_required(self, file: str) -> None:
        schema = reading.json_schema(file)
        assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
        assert schema["type"] == "object"
        assert schema["additionalProperties"] is False
        if FILES[file] != ("about",):
            assert set(schema.get("required", ())) == set(FILES[file]) - {"measures", "flow_chart"}
        number = schema["$defs"].get("Number")
        if number is not None:
            assert set(number["required"]) == {"value", "basis", "weight", "note"}
            assert number["additionalProperties"] is False

    def test_unknown_file(self) -> None:
        with pytest.raises(UsageError, match=r"did you mean checks\.yaml"):
            reading.json_schema("check.yaml")
