"""`doorstep sheet`, `compare` and `verify`: everything that starts from a stored record."""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from agent.cli.guard import guarded, say
from agent.cli.options import Language, SettingsPath
from agent.errors import NewerRecordError

if TYPE_CHECKING:
    from agent.cli.dressing import Look
    from agent.sheet.model import Sheet


class FaceName(StrEnum):
    """The faces of the page."""

    TERMINAL = "terminal"
    HTML = "html"
    PDF = "pdf"


class PaperName(StrEnum):
    """The paper of the page."""

    A4 = "a4"
    LETTER = "letter"


RecordPath = Annotated[Path, typer.Argument(help="A record, or the folder of a visit.")]
Face = Annotated[FaceName, typer.Option("--format", help="Which face.")]
Paper = Annotated[
    PaperName | None,
    typer.Option(
        "--paper", help="Paper of the PDF; that of the settings if not given.", show_default=False
    ),
]
OutFile = Annotated[
    Path | None,
    typer.Option("--out", help="File to write; standard output if not given.", show_default=False),
]
Redact = Annotated[bool, typer.Option("--redact", help="Leave out identity and every address.")]


@guarded
def sheet(
    record: RecordPath,
    face: Face = FaceName.TERMINAL,
    paper: Paper = None,
    out: OutFile = None,
    settings: SettingsPath = None,
    redact: Redact = False,
    detail: Annotated[
        bool, typer.Option("--detail", help="Add a second sheet with the engineer's figures.")
    ] = False,
    language: Language = None,
) -> None:
    """Make the page again from a stored record; with --settings judge it anew and say so.

    Judged anew, the exit code is that of a visit: 0 meets, 3 below, 4 not proven. A record of a
    newer program is named on the page and not read; the exit code is 1.

    Example: doorstep sheet reports/20260302T090000Z-AB12/record.json --format pdf --out page.pdf
    """
    from agent.cli import faces
    from agent.cli.dressing import look_of, settings_of

    loaded = settings_of(settings, language)
    look = look_of(loaded.settings.identity, paper=paper.value if paper else None)
    try:
        stored = faces.read(record)
    except NewerRecordError as error:
        _show(faces.page_of_newer(record, look.dress), face, look, out)
        say(error.sentence())
        raise typer.Exit(1) from error
    shown, anew = faces.shown(stored, hide=redact, settings_path=settings, loaded=loaded)
    page = faces.sheet_of(shown, judged_anew=anew, dress=look.dress)
    _show(page, face, look, out, detail=detail)
    if anew is not None:
        raise typer.Exit(faces.exit_code(shown.record))


def _show(
    page: "Sheet", face: FaceName, look: "Look", out: Path | None, *, detail: bool = False
) -> None:
    """Print a page, or hand it out as the file of its face."""
    from agent.cli import faces

    if face is FaceName.TERMINAL and out is None:
        faces.print_terminal(page, detail=detail)
    else:
        faces.hand_out(faces.content(page, face.value, look.paper, detail=detail), out)


@guarded
def compare(
    before: RecordPath,
    after: Annotated[list[Path], typer.Argument(help="One to three further records.")],
    face: Face = FaceName.TERMINAL,
    paper: Paper = None,
    out: OutFile = None,
    redact: Redact = False,
    language: Language = None,
) -> None:
    """Show two to four records side by side: before and after, or the spots of one work order.

    Example: doorstep compare reports/first/record.json reports/second/record.json
    """
    from agent.cli import comparing, faces
    from agent.cli.dressing import look_of, settings_of

    records = [faces.read(path) for path in (before, *after)]
    identity = settings_of(None, language).settings.identity
    look = look_of(identity, paper=paper.value if paper else None)
    page = comparing.comparison_of(records, hide=redact, dress=look.dress)
    if face is FaceName.TERMINAL and out is None:
        comparing.print_terminal(page)
    else:
        faces.hand_out(comparing.content(page, face.value, look.paper), out)


@guarded
def verify(path: RecordPath) -> None:
    """Say whether a record is whole and unchanged; exit 0 if so, 3 if not.

    Example: doorstep verify reports/20260302T090000Z-AB12/record.json
    """
    from agent.cli import faces

    whole, text = faces.verification(path)
    typer.echo(text)
    if not whole:
        say("Do not rely on this record.")
        raise typer.Exit(3)
