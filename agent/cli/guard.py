"""Where errors become sentences and exit codes; a traceback never reaches the user."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import ParamSpec, TypeVar

import typer

from agent.errors import DoorstepError, printable

P = ParamSpec("P")
R = TypeVar("R")

UNEXPECTED = 1


def guarded(command: Callable[P, R]) -> Callable[P, R]:
    """Return the command with every error shown as its sentence on standard error."""

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return command(*args, **kwargs)
        except DoorstepError as error:
            say(error.sentence())
            raise typer.Exit(error.exit_code) from error
        except BrokenPipeError as error:
            raise typer.Exit(UNEXPECTED) from error
        except (typer.Exit, typer.Abort, typer.TyperException, KeyboardInterrupt):
            raise
        except Exception as error:
            import logging

            logging.getLogger("doorstep").exception("unexpected error")
            say(
                f"Something unexpected happened: {printable(error)}. This is a fault of Doorstep, "
                "not of the line. Run again with --log FILE and send the file to your support."
            )
            raise typer.Exit(UNEXPECTED) from error

    return run


def say(text: str) -> None:
    """Print a line to standard error."""
    typer.echo(text, err=True)


def log_to(path: Path | None) -> None:
    """Send the step-by-step log to a file; nowhere without one."""
    import logging

    logger = logging.getLogger("doorstep")
    logger.addHandler(logging.NullHandler())
    if path is None:
        return
    try:
        handler = logging.FileHandler(path, encoding="utf-8")
    except OSError as error:
        say(f"Cannot write the log {path}: {printable(error.strerror)}. Going on without it.")
        return
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)
