"""The terminal's face in a real terminal: a pane of tmux shows what a pipe carries, line by line.

Numbers of clauses are from memory.
"""

import os
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from records import below, healthy, unproven
from test_browser import needed

from agent.record.seal import seal
from agent.record.store import write_record
from agent.sheet.terminal import FILL, NARROW
from agent.sheet.terminal_mounds import EIGHTHS
from agent.sheet.view import Dress, build_sheet

ROOT = Path(__file__).parents[2]
SOCKET = f"doorstep-test-{os.getpid()}"
HIGH = 260
"""Lines of a pane: more than a page has, so that nothing scrolls away."""
WITHIN_S = 60
PLAIN = {"PATH": os.environ["PATH"], "LANG": "C.UTF-8", "PYTHONPATH": str(ROOT)}
MODES = {"colour": {}, "no colour": {"NO_COLOR": "1"}, "dumb": {"TERM": "dumb"}}
"""NO_COLOR as on no-color.org; POSIX.1-2017 8.3: TERM; "dumb" has no control but the line's end."""
ATTRIBUTES = {"", "0", "1", "3", "4", "7", "22", "23", "24", "27", "39", "49"}
"""ECMA-48 8.3.117: bold, italic, underlined, reversed, their ends, and the default colours."""
CASES = {"below": below, "healthy": healthy, "unproven": unproven}


@dataclass(frozen=True)
class Pane:
    """What a pane shows: as plain lines, joined where the terminal wrapped, with its escapes."""

    lines: list
    joined: list
    styled: str
    code: int


@pytest.fixture(scope="module")
def tmux(tmp_path_factory):
    """Run a command of the tmux server that these tests alone use; it is ended with them."""
    needed("tmux", there=shutil.which("tmux") is not None)
    environment = PLAIN | {"TMUX_TMPDIR": str(tmp_path_factory.mktemp("tmux"))}

    def asked(*argv):
        done = subprocess.run(
            ["tmux", "-u", "-L", SOCKET, "-f", "/dev/null", *argv],
            env=environment,
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=WITHIN_S,
            check=True,
        )
        return done.stdout

    # A session of its own holds the server while those of the tests come and go.
    asked("new-session", "-d", "-s", "hold", "cat")
    asked("set-option", "-g", "default-terminal", "tmux-256color")
    yield asked
    asked("kill-server")


@pytest.fixture
def shown(tmux, tmp_path):
    """Return what a pane of a width shows once a command has ended in it."""

    def showing(argv, width, mode):
        code = tmp_path / "code"
        given = shlex.join(["env", *(f"{name}={value}" for name, value in mode.items()), *argv])
        # ECMA-48 8.3.35: the terminal answers a status report (DSR 5) once it has read all before,
        # with four bytes; only then does it tell that the page stands there.
        order = (
            f"{given}; echo $? > {shlex.quote(str(code))}; stty -icanon -echo; "
            "printf '\\033[5n'; head -c 4 > /dev/null; tmux wait-for -S over; exec cat"
        )
        tmux("new-session", "-d", "-s", "page", "-x", str(width), "-y", str(HIGH), order)
        try:
            tmux("wait-for", "over")
            seen = [
                tmux("capture-pane", "-p", *how, "-t", "page") for how in ((), ("-J",), ("-e",))
            ]
        finally:
            tmux("kill-session", "-t", "page")
        return Pane(tidy(seen[0]), tidy(seen[1]), seen[2], int(code.read_text()))

    return showing


def tidy(text):
    return [line.rstrip() for line in text.rstrip().split("\n")]


def command(path, language):
    return [sys.executable, "-m", "agent", "sheet", str(path), "--language", language]


def piped(argv, width):
    done = subprocess.run(
        argv,
        env=PLAIN | {"COLUMNS": str(width)},
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=WITHIN_S,
        check=True,
    )
    return tidy(done.stdout)


def strip_columns(lines, count):
    """Return the lines of each panel of the strip, from the name down."""
    began = next(at for at, line in enumerate(lines) if line.count("│") == count + 1)
    ended = next(at for at in range(began, len(lines)) if lines[at].startswith("└"))
    rows = [line.strip("│").split("│") for line in lines[began:ended]]
    return [[part.strip() for part in column] for column in zip(*rows, strict=True)]


def in_one_line(lines):
    return " ".join(" ".join(lines).split())


@dataclass(frozen=True)
class Asked:
    """One page as it is asked for."""

    case: str
    language: str
    width: int
    mode: str


ASKED = (
    *(Asked("below", "en", width, mode) for width in (80, 120) for mode in MODES),
    Asked("healthy", "de", 80, "no colour"),
    Asked("unproven", "de", 120, "colour"),
)


@pytest.mark.parametrize("page", ASKED, ids=str)
def test_a_pane_shows_what_a_pipe_carries(shown, tmp_path, page):
    stored = seal(CASES[page.case]())
    argv = command(write_record(stored, tmp_path), page.language)
    pane = shown(argv, page.width, MODES[page.mode])
    assert pane.code == 0
    # A dumb terminal tells no size: the page keeps to the least it needs.
    width = NARROW if page.mode == "dumb" else page.width
    assert pane.lines == piped(argv, width)
    assert pane.joined == pane.lines
    assert max(map(len, pane.lines)) > 0.9 * width
    assert not re.search(r"\x1b|\[\d*(;\d+)*m|[\x00-\x1f\x7f]", "".join(pane.lines))
    stands(build_sheet(stored, dress=Dress(language=page.language)), pane.lines)
    codes = codes_of(pane)
    assert codes <= ATTRIBUTES
    assert ("1" in codes) == (page.mode != "dumb")


def codes_of(pane):
    """Return the numbers of every SGR sequence (ECMA-48 8.3.117) that a pane holds."""
    told = re.findall(r"\x1b\[([\d;]*)m", pane.styled)
    return {code for one in told for code in one.split(";")}


def ends(line, cells):
    """Tell whether a line holds these figures in their order, right of everything else."""
    return re.search(r"\s+".join(re.escape(cell) for cell in cells if cell), line) is not None


def stands(sheet, lines):
    """Assert that what decides can be read off the lines, without any colour."""
    assert sum(sheet.headline.verdict in line for line in lines[:8]) == 1
    panels = strip_columns(lines, len(sheet.strip))
    for panel, cell in zip(panels, sheet.strip, strict=True):
        filled, told = f"[{FILL[cell.ground]}]*", (cell.name, cell.state, cell.evidence)
        said = [re.escape("".join(text.split())) for text in told]
        whole = "".join("".join(panel).split())
        assert re.fullmatch(f"{said[0]}{filled}{said[1]}{said[2]}", whole), cell.name
        assert (FILL[cell.ground] in whole) == (FILL[cell.ground] != " "), cell.name
        # No word is broken: a panel of 80 columns has room for the longest.
        assert {word for text in told for word in text.split()} <= set(" ".join(panel).split())
    for row in sheet.spreads.rows:
        label = row.label.split()[0]
        found = [line for line in lines if line.startswith(label) and ends(line, row.cells)]
        assert any(set(line) & set(EIGHTHS.strip()) for line in found), row.label
    assert sheet.ticket.value in in_one_line(lines)
    assert sheet.proof.sha256 in "".join(lines)


def test_hostile_names_leave_a_real_terminal_as_it_was(shown, tmp_path):
    """ECMA-48: no title, colour, cursor or screen is set by a name that a record carries."""
    record = below()
    hostile = "\x1b[2J\x1b]0;owned\x07\x9b31m\x1b[?1049h\x1b#8 pier"
    private = replace(record.private, company=hostile, premises=hostile, technician=hostile)
    argv = command(write_record(seal(replace(record, private=private)), tmp_path), "en")
    pane = shown(argv, 80, MODES["colour"])
    assert pane.code == 0
    assert "pier" in "".join(pane.lines)
    assert pane.lines == piped(argv, 80)
    assert codes_of(pane) <= ATTRIBUTES
