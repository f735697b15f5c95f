"""A folder of model files into a `Model`, or every problem of all of them with its place."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from brinebayes.errors import ModelError, Problem, UsageError
from brinebayes.knowledge import hashing, shape, well_formed, yaml_strict
from brinebayes.knowledge.frozen import freeze
from brinebayes.knowledge.names import lookup, suggest
from brinebayes.knowledge.schema import FILES, Model
from brinebayes.knowledge.shape import Finding


def read_model(folder: Path) -> Model:
    """The model in `folder`, well-formed and frozen.

    Raises `ModelError` with every problem of all files, in the order of the files and the lines;
    `UsageError` if there is no such folder.
    """
    return read_bytes(hashing.model_bytes(folder), str(folder))


def read_bytes(files: Mapping[str, bytes], folder: str = "") -> Model:
    """The model whose files have these contents; `folder` is only for messages."""
    documents = {name: _document(name, files[name]) for name in FILES if name in files}
    problems = [*_missing_and_extra(files, folder)]
    values: dict[str, Any] = {}
    for name, document in documents.items():
        problems.extend(document.problems)
        if document.data is not None:
            found, findings = shape.fits(name, document.data)
            values.update(found)
            problems.extend(_placed(finding, documents) for finding in findings)
    if problems:
        raise ModelError(_in_file_order(problems))
    model = freeze(Model(hash=hashing.hash_of(files), **values))
    # What lies between the files can only be judged when each has its shape.
    problems.extend(_placed(finding, documents) for finding in well_formed.findings(model))
    if problems:
        raise ModelError(_in_file_order(problems))
    return model


def json_schema(file_name: str) -> dict[str, Any]:
    """The JSON Schema of one model file, for editors. Raises `UsageError` for an unknown file."""
    parts = lookup("model file", file_name, FILES)
    if parts == ("about",):
        found: dict[str, Any] = shape.adapter("about").json_schema()
    else:
        from pydantic import ConfigDict, create_model

        hints: dict[str, Any] = {
            part: (shape.part_type(part), {} if shape.may_be_left_out(part) else ...)
            for part in parts
        }
        config = ConfigDict(extra="forbid")
        whole: Any = create_model(file_name.split(".")[0], __config__=config, **hints)
        found = whole.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found}


def _document(name: str, content: bytes) -> yaml_strict.Document:
    try:
        return yaml_strict.load(name, content.decode("utf-8"))
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8")
        line, column = before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1
        problem = Problem(name, line, column, "", "not UTF-8; save the file in that encoding")
        return yaml_strict.Document(name, None, None, (problem,))


def _missing_and_extra(files: Mapping[str, bytes], folder: str) -> list[Problem]:
    if not files:
        return [Problem(folder or "model", 0, 0, "", f"no model files; a model has {_all_files()}")]
    missing = [
        Problem(name, 0, 0, "", "this file of the model is missing")
        for name, parts in FILES.items()
        if name not in files and not all(map(shape.may_be_left_out, parts))
    ]
    extra = [
        Problem(name, 0, 0, "", f"no model file{suggest(name, FILES)}; a model has {_all_files()}")
        for name in files
        if name not in FILES
    ]
    return [*missing, *extra]


def _all_files() -> str:
    return ", ".join(FILES)


def _placed(finding: Finding, documents: Mapping[str, yaml_strict.Document]) -> Problem:
    document = documents[finding.file]
    at = yaml_strict.place(document.root, finding.path, finding.on_key)
    shown = (*finding.path, finding.missing) if finding.missing else finding.path
    return Problem(finding.file, at.line, at.column, yaml_strict.path_text(shown), finding.says)


def _in_file_order(problems: list[Problem]) -> tuple[Problem, ...]:
    order = {name: index for index, name in enumerate(FILES)}
    return tuple(
        sorted(problems, key=lambda p: (order.get(p.file, len(order)), p.file, p.line, p.column))
    )


def _main() -> int:
    import sys

    try:
        read_model(Path(sys.argv[1]))
    except (ModelError, UsageError) as error:
        print(error, file=sys.stderr)
        return error.exit_code
    print("ok")
    return 0


if __name__ == "__main__":
    raise SystemExit(_main())
