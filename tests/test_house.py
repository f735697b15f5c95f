"""The rooms of the house: who may import whom, and which modules stay off the way to `next`."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "brinebayes"

#: The table of DEVELOPERS.md. A dotted entry allows only that module.
MAY_IMPORT: dict[str, set[str]] = {
    "errors": set(),
    "record": set(),
    "physics": set(),
    "knowledge": {"physics.units"},
    "setups": {"knowledge"},
    "network": {"knowledge"},
    "readings": {"physics", "knowledge"},
    "checking": {"knowledge", "setups", "readings", "network"},
    "visit": {"knowledge", "setups", "readings", "network"},
    "advice": {"knowledge", "setups", "network", "visit"},
    "dialogue": {"knowledge", "setups", "visit", "advice"},
    "cases": {"knowledge", "visit"},
    "simulation": {"knowledge", "setups", "network", "visit", "advice", "cases", "simulation.unit"},
    # The judge of the advice: it knows neither network, readings nor advice.
    "simulation.unit": {"physics", "knowledge"},
    "scoring": {"knowledge", "network", "visit", "advice", "cases"},
    "tuning": {"knowledge", "network", "visit", "cases"},
    "sensitivity": {"knowledge", "network", "cases", "scoring", "tuning"},
    "wording": {
        "knowledge",
        "physics.workbench",
        "setups",
        "network",
        "visit",
        "advice",
        "checking",
        "dialogue",
        "cases",
        "tuning",
        "scoring",
        "simulation",
        "sensitivity",
    },
}
SHELLS = {"cli", "page"}


def imports_of(path: Path) -> list[tuple[int, str]]:
    """(line, dotted name below brinebayes) of every import, those inside functions included."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: relative imports hide the room"
            names = [node.module or ""]
            if node.module == "brinebayes":
                names = [f"brinebayes.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        found += [
            (node.lineno, name.removeprefix("brinebayes."))
            for name in names
            if name.startswith("brinebayes.")
        ]
    return found


def trespasses(room: str, imported: str) -> bool:
    """Whether a room imports what its row does not allow."""
    target = imported.partition(".")[0]
    own = imported == room or imported.startswith(room + ".")
    if own or target in {"errors", "record"} or imported == "__version__":
        return False
    if room in SHELLS:
        return target in SHELLS
    allowed = MAY_IMPORT[room]
    return target not in allowed and not any(
        imported == entry or imported.startswith(entry + ".") for entry in allowed
    )


def _room(path: Path) -> str:
    """The room of a module: its first folder, or the deeper one that has a row of its own."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    deeper = ".".join(parts[:2])
    return deeper if deeper in MAY_IMPORT else parts[0]


def files() -> list[tuple[str, Path]]:
    """(room, file) of every module; the package's own __init__ belongs to no room."""
    return [
        (_room(path), path)
        for path in sorted(PACKAGE.rglob("*.py"))
        if path != PACKAGE / "__init__.py" and "shipped" not in path.parts
    ]


class TestImports:
    """Data flows one way."""

    def test_every_room_has_a_row(self) -> None:
        assert {room for room, _ in files()} <= set(MAY_IMPORT) | SHELLS

    def test_no_room_imports_what_its_row_does_not_allow(self) -> None:
        wrong = [
            f"{path.relative_to(PACKAGE)}:{line} imports {name}"
            for room, path in files()
            for line, name in imports_of(path)
            if trespasses(room, name)
        ]
        assert wrong == []

    @pytest.mark.parametrize(
        ("room", "imported"),
        [
            ("physics", "knowledge.schema"),
            ("knowledge", "physics.brine"),
            ("network", "advice.advise"),
            ("advice", "cli.main"),
            ("cli", "page.export"),
            ("simulation.unit", "network.worlds"),
            ("simulation.unit", "readings.expected"),
            ("simulation.unit", "simulation.trials"),
        ],
    )
    def test_the_table_forbids(self, room: str, imported: str) -> None:
        assert trespasses(room, imported)

    @pytest.mark.parametrize(
        ("room", "imported"),
        [("knowledge", "physics.units"), ("advice", "visit.state"), ("cli", "advice.advise")],
    )
    def test_the_table_allows(self, room: str, imported: str) -> None:
        assert not trespasses(room, imported)

    def test_the_page_for_contributors_shows_the_same_rows(self) -> None:
        """DEVELOPERS.md and this test name the same rooms."""
        text = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
        for room in MAY_IMPORT.keys() - {"errors", "record"}:
            assert f"| `{room}` |" in text, room


class TestShells:
    """A shell parses, calls and renders; it computes nothing."""

    def test_no_arithmetic_in_the_shells(self) -> None:
        sums = (ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Mod, ast.Pow, ast.FloorDiv)
        wrong = [
            f"{path.relative_to(PACKAGE)}:{node.lineno}"
            for room, path in files()
            if room in SHELLS
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.BinOp) and isinstance(node.op, sums)
        ]
        assert wrong == []

    def test_a_command_is_short(self) -> None:
        wrong = [
            f"{path.name}: {node.name}"
            for room, path in files()
            if room in SHELLS
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.FunctionDef) and (node.end_lineno or 0) - node.lineno > 60
        ]
        assert wrong == []
