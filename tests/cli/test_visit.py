"""`brinebayes visit`: from a pipe, on a terminal, and what may go wrong with its file."""

from __future__ import annotations

import io
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from brinebayes.errors import ModelError
from brinebayes.visit.events import CutOff, Done, ModelIs, Note, Saw, Undo
from brinebayes.visit.record import Header, event_lines, header_line, read_events, read_record
from tests.cli.conftest import Ran
from tests.dialogue.drive import SMALL
from tests.visit.terminal import CTRL_C, CTRL_D, ROOT, Terminal

SHOP = ROOT / "tests" / "models" / "shop.yaml"
BEGIN = "\ngo\n1\n"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "visit.jsonl"


@pytest.fixture
def visit(
    run: Callable[..., Ran], path: Path, monkeypatch: pytest.MonkeyPatch
) -> Callable[..., Ran]:
    """visit("typed lines", "--option"): the command with this on its standard input."""

    def once(typed: str, *options: str) -> Ran:
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        return run("visit", str(path), "--model", str(SMALL), *options)

    return once


class TestPiped:
    """Lines from a pipe or a file: one answer a line, and the end of it is no accident."""

    def test_the_end_of_input_leaves_a_saved_visit(
        self, visit: Callable[..., Ran], path: Path
    ) -> None:
        ran = visit(BEGIN + "saw level=static\n")
        assert ran.code == 0
        assert ran.err == ""
        assert read_events(path)[-1] == Saw("level", "static")

    def test_nothing_asks_without_a_terminal(self, visit: Callable[..., Ran]) -> None:
        assert "> " not in visit(BEGIN).out

    def test_it_goes_on_where_it_stopped(self, visit: Callable[..., Ran], path: Path) -> None:
        visit(BEGIN + "done clean_injector\n")
        again = visit("undo\n")
        # A long path is broken over lines, so white space does not count.
        assert f"Visit{path},4answerssofar." in "".join(again.out.split())
        assert "Taken back: repaired clean_injector." in again.out
        assert read_events(path)[-2:] == (Done("clean_injector"), Undo())

    def test_quit_stops_before_the_rest(self, visit: Callable[..., Ran], path: Path) -> None:
        ran = visit(BEGIN + "quit\nnote after the end\n")
        assert ran.code == 0
        assert Note("after the end") not in read_events(path)

    def test_a_last_line_without_its_newline_counts(
        self, visit: Callable[..., Ran], path: Path
    ) -> None:
        visit(BEGIN + "note x")
        assert read_events(path)[-1] == Note("x")

    def test_header_and_lines_carry_the_model_and_the_time(
        self, visit: Callable[..., Ran], path: Path
    ) -> None:
        visit(BEGIN)
        record = read_record(path)
        assert record.header.model is not None
        assert record.header.model.id == "small"
        assert record.header.at
        assert all(entry.at >= record.header.at for entry in record.entries)

    @pytest.mark.parametrize("given", ["null", "closed"])
    def test_nobody_there(self, path: Path, given: str) -> None:
        """Neither a terminal nor input: the screen is shown, nothing is asked or waited for."""
        line = [sys.executable, "-m", "brinebayes.cli.main", "visit", str(path), "--model"]
        ran = subprocess.run(
            [*line, str(SMALL)],
            stdin=subprocess.DEVNULL,
            preexec_fn=(lambda: os.close(0)) if given == "closed" else None,
            capture_output=True,
            text=True,
            cwd=ROOT,
            check=False,
        )
        assert (ran.returncode, ran.stderr) == (0, "")
        assert ran.stdout.endswith("Enter: nothing, or nothing more.\n")

    def test_bytes_that_are_no_text(self, path: Path) -> None:
        line = [sys.executable, "-m", "brinebayes.cli.main", "visit", str(path), "--model"]
        subprocess.run(
            [*line, str(SMALL)],
            input=b"note \xff\xfe!\n",
            capture_output=True,
            cwd=ROOT,
            check=True,
        )
        assert read_events(path) == (Note("\ufffd\ufffd!"),)


class TestRefused:
    """One line on standard error, the exit code of its class, and the file as it was."""

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ('{"schema": "brinebayes.visit.2"}\n', "written by a newer brinebayes"),
            ("shopping list\n", ":1: not a JSON object"),
            (header_line(Header()) + event_lines([Saw("levle", "x")]), "line 2: there is no obser"),
            (header_line(Header(model=ModelIs("big", "1", "x"))), "belongs to the model 'big'"),
            (header_line(Header()) + event_lines([Undo()]), "nothing left to take back"),
        ],
    )
    @pytest.mark.parametrize("options", [(), ("--summary", "office")])
    def test_a_file_that_cannot_be_gone_on_with(
        self,
        visit: Callable[..., Ran],
        path: Path,
        text: str,
        words: str,
        options: tuple[str, ...],
    ) -> None:
        path.write_text(text)
        ran = visit("", *options)
        assert (ran.code, ran.out) == (4, "")
        assert words in ran.err
        assert len(ran.err.splitlines()) == 1
        assert path.read_text() == text

    def test_no_summary_of_nothing(self, visit: Callable[..., Ran], path: Path) -> None:
        ran = visit("", "--summary", "office")
        assert ran.code == 4
        assert "cannot be read: No such file" in ran.err
        assert not path.exists()

    def test_two_at_once(self, visit: Callable[..., Ran], path: Path) -> None:
        first = Terminal("visit", str(path), "--model", str(SMALL), folder=path.parent)
        first.until_asked()
        ran = visit("note x\n")
        assert ran.code == 4
        assert ran.err == (
            f"brinebayes: {path}: another brinebayes has this visit open; end that one first\n"
        )
        first.type("note y\n")
        first.type("quit\n")
        assert first.end() == 0
        assert read_events(path) == (Note("y"),)


class TestFullDisk:
    """The system stops the file at a size; what was said to be noted is in it."""

    def test_one_line_and_nothing_lost(self, path: Path) -> None:
        line = [sys.executable, "-m", "brinebayes.cli.main", "visit", str(path), "--model"]
        ran = subprocess.run(
            [*line, str(SMALL)],
            input=BEGIN + "".join(f"note {n}\n" for n in range(40)),
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1500, 1500)),
            env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "BRINEBAYES_CACHE": "off"},
            capture_output=True,
            text=True,
            cwd=ROOT,
            check=False,
        )
        assert ran.returncode == 4
        assert len(ran.stderr.splitlines()) == 1
        assert "cannot be written: File too large. Everything before is saved" in ran.stderr
        notes = [event for event in read_events(path) if isinstance(event, Note)]
        assert 0 < len(notes) < 40
        assert notes == [Note(str(n)) for n in range(ran.stdout.count("Noted."))]
        assert read_record(path).torn == ""


class TestChanged:
    """What happened to the file or the model since is said, and the visit goes on if it can."""

    def test_a_line_that_was_cut_off(self, visit: Callable[..., Ran], path: Path) -> None:
        path.write_text(header_line(Header()) + event_lines([Note("a")]) + '{"event": "no')
        ran = visit("note b\n")
        assert "! The last line was cut off when the program was stopped." in ran.out
        assert '{"event": "no' in ran.out
        events = [event for event in read_events(path) if not isinstance(event, ModelIs)]
        assert events == [Note("a"), CutOff(), Note("b")]

    def test_a_new_version_of_the_model(self, visit: Callable[..., Ran], path: Path) -> None:
        path.write_text(header_line(Header(model=ModelIs("small", "0", "0123456789"))))
        ran = visit("")
        said = " ".join(ran.out.split())
        assert "The model has changed since: small 0 (01234567), now small 1" in said
        assert "The model has changed" not in visit("").out

    def test_a_file_written_by_hand(self, visit: Callable[..., Ran], path: Path) -> None:
        path.write_text(header_line(Header(note="by hand")) + event_lines([Done("clean_injector")]))
        assert "The model has changed" not in visit("note x\n").out
        record = read_record(path)
        assert record.header.note == "by hand"
        assert record.model is not None


class TestSummary:
    """For the customer and for the office, at any time, without touching the file."""

    def test_it_changes_nothing(self, visit: Callable[..., Ran], path: Path) -> None:
        visit(BEGIN + "done clean_injector\nfinish\nok\n\n")
        before = path.read_bytes()
        assert visit("", "--summary", "customer").out.startswith("Your water softener\n")
        assert "- Clean the injector\n" in visit("", "--summary", "office").out
        assert path.read_bytes() == before

    def test_while_the_visit_is_open_elsewhere(self, visit: Callable[..., Ran], path: Path) -> None:
        terminal = Terminal("visit", str(path), "--model", str(SMALL), folder=path.parent)
        terminal.until_asked()
        assert visit("", "--summary", "office").code == 0
        terminal.kill()

    def test_an_end_shows_the_customers_note(self, visit: Callable[..., Ran]) -> None:
        ran = visit(BEGIN + "done clean_injector\nfinish\nok\n\nnote too late\n")
        assert "Closed: repaired, proof pending." in ran.out
        assert ran.out.rstrip().endswith("Do\nnot touch a wet plug.")


class TestShop:
    """--shop FILE, or the environment; on `next` too."""

    def test_its_codes_and_stock_are_shown(self, visit: Callable[..., Ran]) -> None:
        ran = visit(BEGIN + "take replace_seals\n", "--shop", str(SHOP))
        assert "parts seal kit (S 17), in the van" in ran.out

    def test_from_the_environment(
        self, visit: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv("BRINEBAYES_SHOP", str(SHOP))
        assert "(S 17)" in visit(BEGIN + "take replace_seals\n").out

    def test_a_mistake_in_it(
        self, run: Callable[..., Ran], visit: Callable[..., Ran], path: Path, tmp_path: Path
    ) -> None:
        shop = tmp_path / "shop.yaml"
        shop.write_text("van: [pump]\n")
        for ran in (
            visit("", "--shop", str(shop)),
            run("next", "--model", str(SMALL), "--shop", str(shop)),
        ):
            assert ran.code == ModelError.exit_code
            assert f"{shop}:1:7: van[0]: there is no part pump" in ran.err
        assert not path.exists()

    def test_rates_count_in_next(self, run: Callable[..., Ran]) -> None:
        plain = run("next", "--model", str(SMALL), "--json").out
        dear = run("next", "--model", str(SMALL), "--json", "--shop", str(SHOP)).out
        assert plain != dear


class TestStart:
    """What takes long to load stays away once the model is known."""

    HEAVY = ("pgmpy", "pandas", "pydantic", "networkx", "scipy", "ruamel", "yaml", "matplotlib")

    def test_what_is_not_loaded(self, path: Path) -> None:
        shown = f"print([m for m in {self.HEAVY} if m in sys.modules], file=sys.stderr)"
        code = f"import sys, atexit; atexit.register(lambda: {shown}); from brinebayes.cli.main "
        line = [sys.executable, "-c", f"{code}import main; main()", "visit", str(path), "--shop"]
        # A cache of its own: other tests may push entries out of a shared one between the two runs.
        own = {**os.environ, "BRINEBAYES_CACHE": str(path.parent / "cache")}
        for _ in range(2):
            ran = subprocess.run(
                [*line, str(SHOP), "--model", str(SMALL)],
                env=own,
                input=BEGIN + "think\nsaw level=static\nfinish\n",
                capture_output=True,
                text=True,
                cwd=ROOT,
                check=True,
            )
        assert ran.stderr == "[]\n"


class TestTerminal:
    """On a real terminal."""

    @pytest.mark.parametrize(("key", "code"), [(CTRL_C, 130), (CTRL_D, 0)])
    def test_stopping_leaves_what_was_answered(self, path: Path, key: str, code: int) -> None:
        terminal = Terminal("visit", str(path), "--model", str(SMALL), folder=path.parent)
        assert terminal.until_asked().endswith("> ")
        terminal.type("note kept\n")
        terminal.type(key)
        assert terminal.end() == code
        assert read_events(path) == (Note("kept"),)
        assert ("Saved." in terminal.text()) == (code == 130)

    def test_no_colours_and_no_control_codes(self, path: Path) -> None:
        terminal = Terminal("visit", str(path), "--model", str(SMALL), folder=path.parent)
        terminal.until_asked()
        terminal.type("help\n")
        terminal.type("quit\n")
        terminal.end()
        assert "\x1b" not in terminal.text()
