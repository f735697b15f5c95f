"""`brinebayes cases`: the log of closed visits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from brinebayes.cli.model import Folder, Json

if TYPE_CHECKING:
    from brinebayes.cases.log import Log
    from brinebayes.cases.sheets.importing import Imported
    from brinebayes.knowledge.schema import Model

commands = typer.Typer(
    name="cases", help="The log of closed visits.", no_args_is_help=True, rich_markup_mode=None
)

LogFile = Annotated[
    str,
    typer.Option(
        "--log",
        metavar="FILE",
        help="The case log; $BRINEBAYES_CASES, or one in the user's own data folder, if not given.",
    ),
]
Revise = Annotated[
    bool,
    typer.Option("--revise", help="Keep what differs from the log as a further revision."),
]


@commands.command("add")
def add(
    files: Annotated[list[str], typer.Argument(help="Files of finished visits.")],
    day: Annotated[str, typer.Option(help="When it was, for a file without times.")] = "",
    model: Folder = "softener",
    log: LogFile = "",
    json: Json = False,
) -> None:
    """Add finished visits to the log; what is there already is not added again."""
    from pathlib import Path

    from brinebayes.cases.amend import same_visit
    from brinebayes.cases.closing import close
    from brinebayes.cases.log import add_to
    from brinebayes.cases.place import required_path
    from brinebayes.cli import clock
    from brinebayes.visit.record import read_record
    from brinebayes.wording.cases import added_text

    known = _model(model)
    cases = [close(file, read_record(Path(file)), known, day) for file in files]
    added = add_to(required_path(log), cases, clock.utc(), same_visit)
    _answer("added", vars(added), added_text(added), json)


@commands.command("list")
def list_(
    since: Annotated[str, typer.Option(help="Closed on this day or later: 2024-05-31.")] = "",
    fault: Annotated[str, typer.Option(help="With this fault confirmed.")] = "",
    log: LogFile = "",
    json: Json = False,
) -> None:
    """List the cases, one a line."""
    from brinebayes.cases.find import matching
    from brinebayes.cases.lines import to_row
    from brinebayes.wording.cases import line

    with _log(log) as opened:
        for case in matching(opened.cases(), since, fault):
            typer.echo(_compact(to_row(case)) if json else line(case))


@commands.command("show")
def show(id: str, log: LogFile = "", json: Json = False) -> None:
    """Show one case in full, with its revisions."""
    from brinebayes.cases.lines import to_row
    from brinebayes.wording.cases import text

    with _log(log) as opened:
        history = opened.history(id)
    rows = [{"number": r.number, "added": r.added, "case": to_row(r.case)} for r in history]
    _answer("history", {"revisions": rows}, text(history[-1].case, history), json)


@commands.command("amend")
def amend(
    id: str,
    found: Annotated[
        list[str],
        typer.Option(
            metavar="FAULT[=HOW[:SURE]]",
            help="A fault that was there; HOW: seen, repaired_and_proven, repaired_only, judged.",
        ),
    ] = [],  # noqa: B006
    call_back: Annotated[str, typer.Option(help="yes, no or unknown.")] = "",
    job: Annotated[str, typer.Option(help="The shop's own reference of the job.")] = "",
    unit: Annotated[str, typer.Option(help="The shop's own reference of the unit.")] = "",
    technician: Annotated[str, typer.Option(help="The shop's own reference.")] = "",
    model: Folder = "softener",
    log: LogFile = "",
    json: Json = False,
) -> None:
    """Add what became known after the visit, as a further revision."""
    from brinebayes.cases.amend import amended
    from brinebayes.cases.amend import found as told
    from brinebayes.cases.lines import to_row
    from brinebayes.cli import clock
    from brinebayes.wording.cases import text

    known, confirmed = _model(model), tuple(map(told, found))
    refer = {"job": job, "unit": unit, "technician": technician}
    with _log(log) as opened:
        case = opened.change(
            id, clock.utc(), lambda case: amended(known, case, confirmed, call_back, **refer)
        )
        history = opened.history(id)
    _answer("case", {"case": to_row(case)}, text(case, history), json)


@commands.command("import")
def import_(
    file: Annotated[str, typer.Argument(help="Cases, one a line, or with --mapping a sheet.")],
    mapping: Annotated[
        str, typer.Option(metavar="FILE", help="What the columns of an XLSX or CSV sheet say.")
    ] = "",
    rejected: Annotated[
        str,
        typer.Option(metavar="FILE", help="For rows not taken; FILE.rejected.csv otherwise."),
    ] = "",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Add nothing, write nothing.")] = False,
    revise: Revise = False,
    model: Folder = "softener",
    log: LogFile = "",
    json: Json = False,
) -> None:
    """Add cases from a file; what is there already is not added again. Cases, one a line, are
    taken all or none; of a sheet the good rows are, and the others are kept in a file."""
    from brinebayes.cases.find import known_to
    from brinebayes.cases.log import add_to, replaced_by_new
    from brinebayes.cases.place import required_path
    from brinebayes.cli import clock
    from brinebayes.wording.cases import imported_text

    known = _model(model)
    sheet = _sheet(file, mapping, known) if mapping else None
    cases = sheet.cases if sheet else known_to(known, _cases_of(file))
    again = replaced_by_new if revise else None
    added = add_to(required_path(log), cases, clock.utc(), again, dry_run=dry_run)
    problems, text = (sheet.problems, sheet.rejected) if sheet else ((), "")
    kept = _keep_rejected(rejected or f"{file}.rejected.csv", text) if text and not dry_run else ""
    said = imported_text(added, problems, kept, dry_run)
    row = {**vars(added), "problems": problems, "rejected": kept, "dry_run": dry_run}
    _answer("imported", row, said, json)
    if problems:
        raise typer.Exit(4)


@commands.command("draft")
def draft(
    file: Annotated[str, typer.Argument(help="An XLSX or CSV file.")],
    sheet: Annotated[str, typer.Option(help="The sheet of a workbook; else its first.")] = "",
    model: Folder = "softener",
) -> None:
    """Print a first mapping file for a sheet, to be finished by hand."""
    from pathlib import Path

    from brinebayes.cases.sheets.draft import draft

    typer.echo(draft(Path(file), _model(model), sheet), nl=False)


@commands.command("export")
def export(log: LogFile = "") -> None:
    """Print every case as JSON Lines, the last revision of each."""
    from brinebayes.cases.lines import to_line

    with _log(log) as opened:
        for case in opened.cases():
            typer.echo(to_line(case), nl=False)


@commands.command("check")
def check(
    file: Annotated[str, typer.Argument(help="A file of cases; the log if not given.")] = "",
    model: Folder = "softener",
    log: LogFile = "",
    json: Json = False,
) -> None:
    """Check a log or a file of cases: every record whole, every name in it known to the model."""
    from brinebayes.cases.find import checked, checked_log
    from brinebayes.wording.cases import paragraphs, words
    from brinebayes.wording.fill import fill

    known = _model(model)
    if file:
        found = checked(known, _cases_of(file))
    else:
        with _log(log) as opened:
            found = checked_log(known, opened)
    good = fill(words()["nothing_wrong"], {"count": str(found.count)})
    _answer("check", vars(found), paragraphs(found.problems or (good,)), json)
    if found.problems:
        raise typer.Exit(4)


@commands.command("backup")
def backup(to: Annotated[str, typer.Argument(metavar="FILE")], log: LogFile = "") -> None:
    """Copy the log as it is now to another file; others may go on adding meanwhile."""
    from pathlib import Path

    with _log(log) as opened:
        opened.backup(Path(to))


@commands.command("schema")
def schema() -> None:
    """Print the JSON Schema of a case record."""
    from json import dumps

    from brinebayes.cases.published import json_schema

    typer.echo(dumps(json_schema(), ensure_ascii=False, indent=2))


# --- shared ------------------------------------------------------------------------------------


def _log(chosen: str) -> Log:
    from brinebayes.cases.log import Log
    from brinebayes.cases.place import required_path

    return Log(required_path(chosen))


def _model(folder: str) -> Model:
    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder

    return ready(model_folder(folder)).model


def _cases_of(file: str) -> Any:
    from brinebayes.cases.lines import read_cases
    from brinebayes.knowledge.shipped import case_file

    return read_cases(case_file(file))


def _sheet(file: str, mapping: str, model: Model) -> Imported:
    from pathlib import Path

    from brinebayes.cases.sheets.importing import import_sheet
    from brinebayes.cases.sheets.mapping import read_mapping
    from brinebayes.cli import clock

    return import_sheet(Path(file), read_mapping(Path(mapping), model), model, clock.today())


def _keep_rejected(file: str, text: str) -> str:
    from pathlib import Path

    from brinebayes.cases.sheets.importing import write_rejected

    write_rejected(Path(file), text)
    return file


def _answer(kind: str, answer: dict[str, Any], text: str, json: bool) -> None:
    row = {"schema": f"brinebayes.cases.{kind}.1", **answer}
    typer.echo(_compact(row) if json else text, nl=json)


def _compact(row: object) -> str:
    from json import dumps

    return dumps(row, ensure_ascii=False)
