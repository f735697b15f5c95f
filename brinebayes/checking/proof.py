"""Prove a model: refuse it with everything that is wrong, or hand out a `CheckedModel`."""

from __future__ import annotations

from collections.abc import Mapping

from brinebayes.checking.examine import examine
from brinebayes.checking.remark import Places
from brinebayes.errors import ModelError
from brinebayes.knowledge.schema import CheckedModel, Model


def prove(model: Model, files: Mapping[str, bytes] | None = None) -> CheckedModel:
    """The model as a checked one, with the warnings that remained as lines.

    `files`: the content of the model files, for file:line in what is said. Raises `ModelError`
    with every error that was found.
    """
    found, places = examine(model).remarks, Places(files)
    errors = places.problems(remark for remark in found if remark.severity == "error")
    if errors:
        raise ModelError(errors)
    warnings = places.problems(remark for remark in found if remark.severity == "warning")
    return CheckedModel(model, tuple(map(str, warnings)))
