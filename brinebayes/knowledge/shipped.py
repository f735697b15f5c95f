"""Where the models and cases that come with brinebayes lie: in a checkout and in a wheel."""

from __future__ import annotations

from pathlib import Path

from brinebayes.errors import UsageError
from brinebayes.knowledge.names import listed, suggest

#: The ending of a file of cases, one a line; other JSON Lines among them are visits.
CASES = ".cases.jsonl"

_PACKAGE = Path(__file__).resolve().parents[1]


def model_folder(name: str | Path = "softener") -> Path:
    """The folder of a shipped model, or the folder at a path.

    The name of a shipped model wins over a folder of the same name, so that what a plain
    `softener` means does not depend on where one stands; write `./softener` for the folder.
    Raises `UsageError` with what there is.
    """
    shipped = _models()
    if str(name) in shipped:
        return shipped[str(name)]
    if Path(name).is_dir():
        return Path(name)
    raise UsageError(_nothing("model", str(name), tuple(shipped), "a folder"))


def is_shipped(folder: Path) -> bool:
    """Whether a folder is that of a shipped model."""
    return Path(folder).resolve() in {place.resolve() for place in _models().values()}


def visit_file(name: str | Path) -> Path:
    """A shipped visit by its name, without ending, or the file at a path.

    Raises `UsageError` with what there is.
    """
    shipped = _visits()
    if str(name) in shipped:
        return shipped[str(name)]
    if Path(name).is_file():
        return Path(name)
    raise UsageError(_nothing("visit", str(name), tuple(shipped), "a file"))


def case_file(name: str | Path) -> Path:
    """A shipped file of cases by its name, without ending, or the file at a path.

    Raises `UsageError` with what there is.
    """
    shipped = _files(CASES)
    if str(name) in shipped:
        return shipped[str(name)]
    if Path(name).is_file():
        return Path(name)
    raise UsageError(_nothing("cases", str(name), tuple(shipped), "a file"))


def _nothing(kind: str, name: str, shipped: tuple[str, ...], path: str) -> str:
    hint = suggest(name, shipped)
    return f"no {kind} {name!r}{hint}; give the path of {path} or a shipped one: {listed(shipped)}"


def _models() -> dict[str, Path]:
    top = _top("models")
    if top is None:
        return {}
    return {each.name: each for each in sorted(top.iterdir()) if (each / "model.yaml").is_file()}


def _files(ending: str) -> dict[str, Path]:
    """What lies among the shipped cases with this ending, by its name without it."""
    top = _top("cases")
    if top is None:
        return {}
    return {
        each.relative_to(top).as_posix().removesuffix(ending): each
        for each in sorted(top.rglob(f"*{ending}"))
    }


def _visits() -> dict[str, Path]:
    cases = _files(CASES).values()
    return {name: path for name, path in _files(".jsonl").items() if path not in cases}


def _top(kind: str) -> Path | None:
    """The folder of shipped `models` or `cases`, None if this copy of the package has none."""
    wheel = _PACKAGE / "shipped" / kind
    if wheel.is_dir():
        return wheel
    # Beside an installed package may lie anyone's `models`; only a checkout has these two together.
    checkout = _PACKAGE.parent
    if (checkout / "pyproject.toml").is_file() and (checkout / kind).is_dir():
        return checkout / kind
    return None
