"""Models and cases are found by name in a checkout and in a wheel, or by path."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.errors import UsageError
from brinebayes.knowledge import shipped


@pytest.fixture(params=["checkout", "wheel"])
def top(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An invented installation with two models and two visits, of either kind."""
    package = tmp_path / "home" / "brinebayes"
    package.mkdir(parents=True)
    monkeypatch.setattr(shipped, "_PACKAGE", package)
    if request.param == "checkout":
        (package.parent / "pyproject.toml").write_text("")
        top = package.parent
    else:
        top = package / "shipped"
    for name in ("softener", "other"):
        (top / "models" / name).mkdir(parents=True)
        (top / "models" / name / "model.yaml").write_text("")
    (top / "models" / "not_one").mkdir()
    (top / "cases" / "more").mkdir(parents=True)
    (top / "cases" / "demo.jsonl").write_text("")
    (top / "cases" / "shop.cases.jsonl").write_text("")
    (top / "cases" / "more" / "second.jsonl").write_text("")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    return top


class TestModelFolder:
    """By name, else by path."""

    def test_the_softener_if_nothing_is_said(self, top: Path) -> None:
        assert shipped.model_folder() == top / "models" / "softener"

    def test_by_name(self, top: Path) -> None:
        assert shipped.model_folder("other") == top / "models" / "other"

    def test_by_path(self, top: Path, tmp_path: Path) -> None:
        assert shipped.model_folder(tmp_path) == tmp_path
        Path("mine").mkdir()
        assert shipped.model_folder("mine") == Path("mine")

    def test_a_folder_of_the_same_name_needs_a_path(self, top: Path) -> None:
        Path("softener").mkdir()
        assert shipped.model_folder("softener") == top / "models" / "softener"
        assert shipped.model_folder("./softener") == Path("softener")

    @pytest.mark.parametrize("name", ["softner", "not_one", "no/such/path"])
    def test_neither(self, top: Path, name: str) -> None:
        with pytest.raises(UsageError) as caught:
            shipped.model_folder(name)
        assert "other, softener" in str(caught.value)

    def test_did_you_mean(self, top: Path) -> None:
        with pytest.raises(UsageError, match=r"did you mean softener\?"):
            shipped.model_folder("softner")


class TestVisitFile:
    """By name without ending, else by path."""

    def test_by_name(self, top: Path) -> None:
        assert shipped.visit_file("demo") == top / "cases" / "demo.jsonl"
        assert shipped.visit_file("more/second") == top / "cases" / "more" / "second.jsonl"

    def test_by_path(self, top: Path) -> None:
        Path("demo.jsonl").write_text("")
        assert shipped.visit_file("demo.jsonl") == Path("demo.jsonl")

    def test_neither(self, top: Path) -> None:
        with pytest.raises(UsageError, match=r"did you mean demo\?.*demo, more/second"):
            shipped.visit_file("demos")


class TestCaseFile:
    """By name without its ending, else by path; cases and visits are never taken for each other."""

    def test_by_name(self, top: Path) -> None:
        assert shipped.case_file("shop") == top / "cases" / "shop.cases.jsonl"

    def test_by_path(self, top: Path) -> None:
        Path("mine.jsonl").write_text("")
        assert shipped.case_file("mine.jsonl") == Path("mine.jsonl")

    def test_neither(self, top: Path) -> None:
        with pytest.raises(UsageError, match=r"did you mean shop\?.*: shop$"):
            shipped.case_file("shops")
        with pytest.raises(UsageError, match="no visit 'shop'"):
            shipped.visit_file("shop")


def test_neighbours_of_an_installed_package_are_not_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a pyproject.toml beside it, a folder `models` is somebody else's."""
    monkeypatch.setattr(shipped, "_PACKAGE", tmp_path / "brinebayes")
    (tmp_path / "models" / "softener").mkdir(parents=True)
    (tmp_path / "models" / "softener" / "model.yaml").write_text("")
    with pytest.raises(UsageError, match="shipped one: none"):
        shipped.model_folder()


def test_this_copy_of_the_package() -> None:
    assert (shipped.model_folder() / "model.yaml").is_file()
