"""One YAML file into plain data, strictly, with the place of everything.

Read with PyYAML's C loader as far as its node tree; what a plain scalar means is decided here, by
the core schema of YAML 1.2 (section 10.3.2): `on`, `off`, `yes`, `no` and `1:30` are words and
`5e-2` is a number. Refused, each with its place: duplicate keys, keys that are not words, empty
values, numbers that are not finite, anchors, aliases, merge keys, tags, directives and more than
one document.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from brinebayes.errors import Problem
from brinebayes.record import record

if TYPE_CHECKING:
    from yaml.nodes import Node

#: What leads to a value: keys of mappings and indices of lists, from the top of the file.
Path = tuple[str | int, ...]

#: May start a file; it is no part of the text, and places are counted without it.
BYTE_ORDER_MARK = "\ufeff"

_NULL = re.compile(r"(?:null|Null|NULL|~|)\Z")
_BOOL = re.compile(r"(?:true|True|TRUE|false|False|FALSE)\Z")
_INT = re.compile(r"[-+]?[0-9]+\Z")
_OCTAL = re.compile(r"0o[0-7]+\Z")
_HEX = re.compile(r"0x[0-9a-fA-F]+\Z")
_FLOAT = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?\Z")
_NOT_FINITE = re.compile(r"(?:[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN))\Z")

# Only a text in which one of these stands where a token may begin is scanned for them.
_MAY_HOLD_ODD_TOKENS = re.compile(r"(?:^|[\s\[{},:?-])[&*!]\S|^%", re.MULTILINE)

_DEEPEST = 40
_MOST_DIGITS = 400


@record
class Document:
    """A file as plain data (dict, list, str, int, float, bool) with its node tree and problems.

    `data` and `root` are None if the text could not be parsed at all.
    """

    file: str
    data: Any
    root: Node | None
    problems: tuple[Problem, ...]


@record
class Place:
    """Where a node stands: `line` and `column` count from 1; `start` and `end` index the text."""

    line: int
    column: int
    start: int
    end: int


def load(file: str, text: str) -> Document:
    """Parse one file; everything refused is in `problems`, the rest of the file is still read."""
    import yaml

    text = text.removeprefix(BYTE_ORDER_MARK)
    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    try:
        odd = tuple(_odd_tokens(file, text, loader))
        if odd:
            # Aliases make the tree a graph; nothing may be read until they are gone.
            return Document(file, None, None, odd)
        root = yaml.compose(text, Loader=loader)
    except yaml.YAMLError as error:
        return Document(file, None, None, (_syntax_problem(file, error),))
    except RecursionError:
        return Document(file, None, None, (Problem(file, 0, 0, "", "nested far too deeply"),))
    if root is None:
        return Document(file, None, None, (Problem(file, 0, 0, "", "the file is empty"),))
    problems: list[Problem] = []
    data = _construct(file, root, (), problems)
    return Document(file, data, root, tuple(problems))


def place(root: Node | None, path: Path, on_key: bool = False) -> Place:
    """The place of the value at `path`, or of its key; if there is none, of the nearest above."""
    if root is None:
        return Place(0, 0, 0, 0)
    at, node = root, root
    for step in path:
        found = _child(node, step)
        if found is None:
            break
        key, node = found
        at = key if key is not None and on_key else node
    mark, end = at.start_mark, at.end_mark
    return Place(mark.line + 1, mark.column + 1, mark.index, end.index)


def node_at(root: Node, path: Path) -> Node | None:
    """The node of the value at `path`, None if nothing stands there."""
    node: Node | None = root
    for step in path:
        found = None if node is None else _child(node, step)
        node = None if found is None else found[1]
    return node


def path_text(path: Path) -> str:
    """A path as people write it: `draw_test.observations.level.rows[0].gives`."""
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def resolve(word: str) -> str | int | float | bool | None:
    """The value of a plain (unquoted) scalar by the core schema of YAML 1.2.

    Raises ValueError for `.inf` and `.nan`, for numbers that overflow and for absurdly long ones.
    """
    if _NULL.match(word):
        return None
    if _BOOL.match(word):
        return word.lower() == "true"
    if _NOT_FINITE.match(word):
        raise ValueError("not a finite number")
    if _OCTAL.match(word):
        return int(word[2:], 8)
    if _HEX.match(word):
        return int(word[2:], 16)
    if _FLOAT.match(word):
        if len(word) > _MOST_DIGITS:
            raise ValueError("a number with too many digits")
        if _INT.match(word):
            return int(word)
        value = float(word)
        if not math.isfinite(value):
            raise ValueError("too large for a number")
        return value
    return word


# --- from nodes to data ------------------------------------------------------------------------


def _construct(file: str, node: Node, path: Path, problems: list[Problem]) -> Any:
    from yaml.nodes import MappingNode, ScalarNode, SequenceNode

    def refuse(where: Node, says: str, at: Path = path) -> None:
        mark = where.start_mark
        problems.append(Problem(file, mark.line + 1, mark.column + 1, path_text(at), says))

    if len(path) > _DEEPEST:
        refuse(node, "nested far too deeply")
        return ""
    if isinstance(node, ScalarNode):
        if node.style:  # quoted or a block of text
            return node.value
        try:
            value = resolve(node.value)
        except ValueError as error:
            refuse(node, f"{error}: {node.value[:40]}")
            return 0
        if value is None:
            refuse(node, "empty; give a value or leave the key out")
            return ""
        return value
    if isinstance(node, SequenceNode):
        return [
            _construct(file, item, (*path, index), problems)
            for index, item in enumerate(node.value)
        ]
    assert isinstance(node, MappingNode)
    data: dict[str, Any] = {}
    first: dict[str, int] = {}
    for key_node, value_node in node.value:
        key = _key(key_node)
        if key is None:
            refuse(key_node, "a key must be a word; put numbers, true, false and null in quotes")
            continue
        here = (*path, key)
        if key == "<<" and not key_node.style:
            refuse(key_node, "merge keys are not used here; write the values out", here)
            continue
        if key in data:
            refuse(key_node, f"this key is already given in line {first[key]}; keep one", here)
            continue
        first[key] = key_node.start_mark.line + 1
        data[key] = _construct(file, value_node, here, problems)
    return data


def _key(node: Node) -> str | None:
    from yaml.nodes import ScalarNode

    if not isinstance(node, ScalarNode):
        return None
    if node.style:
        return str(node.value)
    try:
        value = resolve(node.value)
    except ValueError:
        return None
    return value if isinstance(value, str) else None


def _child(node: Node, step: str | int) -> tuple[Node | None, Node] | None:
    from yaml.nodes import MappingNode, SequenceNode

    if isinstance(node, MappingNode):
        for key, value in node.value:
            if _key(key) == step:
                return key, value
    if isinstance(node, SequenceNode) and isinstance(step, int) and step < len(node.value):
        return None, node.value[step]
    return None


# --- what is refused ---------------------------------------------------------------------------


def _odd_tokens(file: str, text: str, loader: Any) -> Iterator[Problem]:
    if not _MAY_HOLD_ODD_TOKENS.search(text):
        return
    import yaml

    says = {
        "AnchorToken": "anchors (&) are not used here; write the value out where it is needed",
        "AliasToken": "aliases (*) are not used here; write the value out (or quote the text)",
        "TagToken": "tags (!) are not used here; quote the text if it starts with !",
        "DirectiveToken": "directives (%) are not used here",
    }
    for token in yaml.scan(text, Loader=loader):
        refused = says.get(type(token).__name__)
        if refused:
            mark = token.start_mark
            yield Problem(file, mark.line + 1, mark.column + 1, "", refused)


def _syntax_problem(file: str, error: Any) -> Problem:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    what = getattr(error, "problem", None) or getattr(error, "reason", None) or str(error)
    context = getattr(error, "context", None)
    hints = {
        "mapping values are not allowed in this context": "put text that holds ': ' in quotes",
        "found character that cannot start any token": "indent with spaces; quote such text",
    }
    hint = f"; {hints[what]}" if what in hints else ""
    says = f"not YAML: {what}" + (f" {context}" if context else "") + hint
    if mark is None:
        return Problem(file, 0, 0, "", says)
    return Problem(file, mark.line + 1, mark.column + 1, "", says)
