"""The one line shown while a visit runs."""

import io

from rich.console import Console

from agent.cli.progress import ProgressLine, line_of
from agent.measurements import Kind
from agent.session.request import Progress


def test_it_says_what_runs_how_long_still_and_what_was_moved():
    progress = Progress(running=(Kind.DELAY, Kind.LEASE), left_s=13.6, bytes_used=2_340_000)
    line = line_of(progress)
    assert "delay and loss, the address" in line
    assert "14 s left" in line
    assert "2.3 MB" in line


def test_it_says_when_the_visit_waits_for_the_server():
    progress = Progress(running=(), left_s=20.0, bytes_used=0, waiting_s=12.0)
    assert line_of(progress) == "Waiting for the test server · about 12 s"


def test_nothing_is_shown_where_there_is_no_terminal(capsys):
    with ProgressLine(quiet=False) as line:
        line(Progress(running=(Kind.PATH,), left_s=1.0, bytes_used=0))
    assert capsys.readouterr() == ("", "")
    assert not Console(file=io.StringIO()).is_terminal
