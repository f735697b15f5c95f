"""Single values of a model file are changed in place; every other character stays as it is.

Only the span of a scalar is replaced, or one `key: value` is put beside others, so that comments,
order and layout survive and the difference shows nothing else. Before anything is written the
new text is read again: exactly the intended values differ, and the whole model is well-formed.
"""

from __future__ import annotations

import json
import math
import os
import re
from collections.abc import Mapping
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from brinebayes.errors import ModelError, UsageError
from brinebayes.knowledge import hashing, yaml_strict
from brinebayes.knowledge.names import listed, lookup, suggest
from brinebayes.knowledge.reading import read_bytes
from brinebayes.knowledge.schema import FILES
from brinebayes.knowledge.yaml_strict import Path, path_text

if TYPE_CHECKING:
    from yaml.nodes import MappingNode, Node

#: What may be written: numbers, words, true and false.
Value = int | float | str | bool

_SAFE_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_-]*(?: [A-Za-z0-9_-]+)*|\d{4}-\d\d-\d\d")

#: Replace `text[start:end]` by this; start == end inserts.
_Edit = tuple[int, int, str]


def change_number(folder: FilePath, file: str, path: Path, new: Value) -> None:
    """Change one value, `path` being its keys and indices from the top of the file.

    Example: 0.2 at `("faults", "seals_worn", "share", "value")` of faults.yaml. Raises as
    `change_numbers` does.
    """
    change_numbers(folder, file, {path: new})


def change_numbers(folder: FilePath, file: str, changes: Mapping[Path, Value]) -> None:
    """Change several values of one file in one write.

    A key that is not there yet is put at the end of its mapping, which must exist (a number gets
    its `cases` this way). Whole mappings and lists, and text in block style, are not replaced.
    Raises `UsageError` for a path that leads nowhere or to such a thing, `ModelError` if the model
    would not be well-formed afterwards; the file is then as it was.
    """
    lookup("model file", file, FILES)
    files = hashing.model_bytes(folder)
    if file not in files:
        raise UsageError(f"{folder}: there is no {file}")
    target = FilePath(folder) / file
    try:
        text = files[file].decode("utf-8")
    except UnicodeDecodeError:
        raise ModelError(f"{file}: not UTF-8; save the file in that encoding") from None
    new = changed(file, text, changes).encode("utf-8")
    if new == files[file]:
        return
    read_bytes({**files, file: new}, str(folder))
    _replace(target, new)


def is_block_text(text: str, file: str, path: Path) -> bool:
    """Whether text in block style stands at a path; it is not replaced."""
    root = yaml_strict.load(file, text).root
    node = yaml_strict.node_at(root, path) if root is not None else None
    return getattr(node, "style", None) in ("|", ">")


def changed(file: str, text: str, changes: Mapping[Path, Value]) -> str:
    """The text of a model file with these values changed. Raises as `change_numbers` does."""
    if text.startswith(yaml_strict.BYTE_ORDER_MARK):
        return text[0] + changed(file, text[1:], changes)
    before = yaml_strict.load(file, text)
    if before.problems or before.root is None:
        raise ModelError(before.problems)
    edits = [_edit(file, text, before.root, path, new) for path, new in changes.items()]
    pieces: list[str] = []
    done = 0
    # The sort is stable: several keys for one place stay in the order given.
    for start, end, piece in sorted(edits, key=lambda edit: edit[:2]):
        pieces += (text[done:start], piece)
        done = end
    new_text = "".join((*pieces, text[done:]))
    after = yaml_strict.load(file, new_text)
    wanted = json.loads(json.dumps(before.data))
    for path, new in changes.items():
        _set(wanted, path, new)
    # As JSON text, because 1, 1.0 and true are equal in Python.
    if after.problems or _canonical(after.data) != _canonical(wanted):
        paths = ", ".join(path_text(path) for path in changes)
        raise ModelError(f"{file}: {paths} cannot be changed without changing something else")
    return new_text


def written(value: Value) -> str:
    """A value as it stands in a file: read again it is the same, to the last bit.

    Raises ValueError for numbers that are not finite.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        plain = _SAFE_PLAIN.fullmatch(value) and yaml_strict.resolve(value) == value
        return value if plain else _quoted(value)
    if isinstance(value, int):
        return str(int(value))
    if not math.isfinite(value):
        raise ValueError(f"{value} is not a number that can be written")
    return repr(float(value))


# --- where and how -----------------------------------------------------------------------------


def _edit(file: str, text: str, root: Node, path: Path, new: Value) -> _Edit:
    from yaml.nodes import MappingNode, ScalarNode

    node = yaml_strict.node_at(root, path)
    if node is None:
        above = yaml_strict.node_at(root, path[:-1]) if path else None
        if not isinstance(above, MappingNode) or not isinstance(path[-1], str):
            raise UsageError(f"{file}: {path_text(path)} does not exist{_near(root, path)}")
        return _insertion(text, above, path[-1], new)
    if not isinstance(node, ScalarNode):
        says = "is not a single value; change the values in it"
        raise UsageError(f"{file}: {path_text(path) or 'the whole file'} {says}")
    if node.style in ("|", ">"):
        says = "is text in block style, which is not replaced; change it by hand"
        raise UsageError(f"{file}: {path_text(path)} {says}")
    return node.start_mark.index, node.end_mark.index, written(new)


def _insertion(text: str, mapping: MappingNode, key: str, new: Value) -> _Edit:
    pair = f"{written(key)}: {written(new)}"
    if mapping.flow_style:
        if not mapping.value:
            at = mapping.start_mark.index + 1
            return at, at, pair
        at = mapping.value[-1][1].end_mark.index
        return at, at, f", {pair}"
    newline = "\r\n" if "\r\n" in text else "\n"
    first = mapping.value[0][0].start_mark
    indent = " " * first.column
    last = _last_line_of_a_value(mapping)
    if last is None:
        # Only nested blocks, whose end is not marked: a line before the first key is always sound.
        return first.index, first.index, f"{pair}{newline}{indent}"
    at = text.find("\n", last)
    if at < 0:
        return len(text), len(text), f"{newline}{indent}{pair}"
    return at + 1, at + 1, f"{indent}{pair}{newline}"


def _last_line_of_a_value(mapping: MappingNode) -> int | None:
    """Where the last value ends whose end the parser marks: on its own line, before any comment."""
    from yaml.nodes import ScalarNode

    for _, value in reversed(mapping.value):
        is_text_block = isinstance(value, ScalarNode) and value.style in ("|", ">")
        if not is_text_block and (isinstance(value, ScalarNode) or value.flow_style):
            return int(value.end_mark.index)
    return None


def _near(root: Node, path: Path) -> str:
    from yaml.nodes import MappingNode

    for depth, step in enumerate(path):
        if yaml_strict.node_at(root, path[: depth + 1]) is None:
            above = yaml_strict.node_at(root, path[:depth])
            if isinstance(above, MappingNode):
                keys = [str(key.value) for key, _ in above.value]
                return suggest(str(step), keys) or f" (there are: {listed(keys)})"
            return ""
    return ""


def _set(data: Any, path: Path, new: Value) -> None:
    for step in path[:-1]:
        data = data[step]
    data[path[-1]] = new


def _canonical(data: Any) -> str:
    return json.dumps(data, sort_keys=True)


def _quoted(text: str) -> str:
    return '"' + "".join(map(_escaped, text)) + '"'


def _escaped(char: str) -> str:
    if char in '"\\':
        return "\\" + char
    if char.isprintable():
        return char
    code = ord(char)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _replace(target: FilePath, content: bytes) -> None:
    """The file as a whole is the old or the new one at any time, whatever stops us."""
    real = os.path.realpath(target)
    temporary = f"{real}.{os.getpid()}.{os.urandom(4).hex()}.tmp"
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, os.stat(real).st_mode & 0o777)
        os.replace(temporary, real)
    finally:
        if os.path.exists(temporary):
            os.unlink(temporary)
