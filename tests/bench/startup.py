"""Print how long `doorstep --help` takes beside a bare Typer program of the same commands.

The bare program has the same commands, each with as many options, and does nothing else.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from practice_visits import ROOT, table

RUNS = 10
COMMANDS = {
    "visit": 26,
    "measure": 13,
    "sheet": 8,
    "compare": 7,
    "verify": 1,
    "serve": 10,
    "practice": 25,
}
INNER_COMMANDS = {"show": 1, "check": 1, "tiers": 2, "schema": 0}
BARE = """
from typing import Annotated
import typer
app = typer.Typer(name="doorstep", no_args_is_help=True, add_completion=False,
                  rich_markup_mode=None, pretty_exceptions_enable=False)
inner = typer.Typer(no_args_is_help=True, rich_markup_mode=None)
{commands}
app.add_typer(inner, name="settings")
app()
"""
OPTION = 'o{n}: Annotated[str | None, typer.Option("--o{n}", help="A text.")] = None'


def command(place, name, options):
    """Return the text of a command with so many options."""
    signature = ", ".join(OPTION.format(n=n) for n in range(options))
    return f'@{place}.command("{name}")\ndef {place}_{name}({signature}): ...'


def bare_program():
    """Return the text of a Typer program that has the same commands and does nothing."""
    outer = [command("app", name, options) for name, options in COMMANDS.items()]
    inner = [command("inner", name, options) for name, options in INNER_COMMANDS.items()]
    return BARE.format(commands="\n".join(outer + inner))


def seconds(command):
    """Return the wall time of one run."""
    began = time.monotonic()
    subprocess.run(command, cwd=ROOT, capture_output=True, check=True)
    return time.monotonic() - began


def main():
    """Run both in turn and print their medians and the ratio."""
    with tempfile.TemporaryDirectory() as folder:
        bare = Path(folder) / "bare.py"
        bare.write_text(bare_program())
        ours_command = [sys.executable, "-m", "agent", "--help"]
        bare_command = [sys.executable, str(bare), "--help"]
        pairs = [(seconds(ours_command), seconds(bare_command)) for _ in range(RUNS)]
    ours, plain = (statistics.median(column) for column in zip(*pairs, strict=True))
    rows = [
        ("doorstep --help", f"{ours * 1e3:.0f}"),
        ("bare Typer program", f"{plain * 1e3:.0f}"),
        ("ratio", f"{ours / plain:.2f}"),
    ]
    table(("program", f"median of {RUNS}, ms"), rows)


if __name__ == "__main__":
    main()
