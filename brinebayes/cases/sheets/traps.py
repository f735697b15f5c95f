"""Cells of a workbook that look blank to a reader of values, and are not.

A formula that was never computed and an error both come out as nothing, and nothing would mean
"not checked". They are looked up in the file itself (Office Open XML, ECMA-376 part 1, 18.3.1.4:
cell, with its formula `f`, value `v` and type `t`).
"""

from __future__ import annotations

import posixpath
import zipfile
from pathlib import Path
from xml.etree import ElementTree

from brinebayes.errors import DataError

_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


def lost_cells(path: Path, sheet: str) -> dict[tuple[int, int], str]:
    """(row, column), counted from 0 -> why its content is lost. Raises DataError."""
    found: dict[tuple[int, int], str] = {}
    try:
        with zipfile.ZipFile(path) as book, book.open(_part(book, sheet)) as part:
            for _, node in ElementTree.iterparse(part):
                if _name(node) == "c":
                    why = _lost(node)
                    if why:
                        found[_place(node.get("r", ""))] = why
                elif _name(node) == "row":
                    node.clear()
    except (zipfile.BadZipFile, KeyError, ElementTree.ParseError, ValueError) as error:
        raise DataError(f"{path}: is no workbook that can be read: {error}") from error
    return found


def _lost(cell: ElementTree.Element) -> str:
    parts = {_name(child): child for child in cell}
    value = parts["v"].text if "v" in parts else None
    if cell.get("t") == "e":
        return f"holds the error {value or ''}".rstrip()
    if "f" in parts and not value and cell.get("t") != "str":
        return "holds a formula without a value; open and save the file, or put the value there"
    return ""


def _part(book: zipfile.ZipFile, sheet: str) -> str:
    """The part of the workbook that holds a sheet."""
    with book.open("xl/workbook.xml") as file:
        tree = ElementTree.parse(file)
    id = next(
        node.get(_RELATION)
        for node in tree.iter()
        if _name(node) == "sheet" and node.get("name") == sheet
    )
    with book.open("xl/_rels/workbook.xml.rels") as file:
        tree = ElementTree.parse(file)
    target = next(node.get("Target", "") for node in tree.iter() if node.get("Id") == id)
    return posixpath.normpath(posixpath.join("/xl", target)).lstrip("/")


def _place(reference: str) -> tuple[int, int]:
    letters = reference.rstrip("0123456789")
    column = 0
    for letter in letters:
        column = 26 * column + ord(letter) - ord("A") + 1
    return int(reference[len(letters) :]) - 1, column - 1


def _name(node: ElementTree.Element) -> str:
    return str(node.tag).rpartition("}")[2]
