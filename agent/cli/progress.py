"""One line on a terminal while a visit runs: what runs, how long still, bytes used."""

from __future__ import annotations

from types import TracebackType
from typing import TYPE_CHECKING, Self

from agent.units import MEGA

if TYPE_CHECKING:
    from agent.session.request import Progress

WORDS = {
    "link": "the port",
    "lease": "the address",
    "dns": "names",
    "delay": "delay and loss",
    "path": "the path",
    "http": "web pages",
    "reach": "ports",
    "throughput": "throughput",
}


def line_of(progress: Progress) -> str:
    """Return the progress as one line of text."""
    if progress.waiting_s is not None:
        return f"Waiting for the test server · about {progress.waiting_s:.0f} s"
    what = ", ".join(WORDS[kind.value] for kind in progress.running) or "putting it together"
    moved = f"{progress.bytes_used / MEGA:.1f} MB over the line"
    return f"Measuring {what} · about {progress.left_s:.0f} s left · {moved}"


class ProgressLine:
    """A line that rewrites itself on standard error; silent where that is no terminal."""

    def __init__(self, *, quiet: bool) -> None:
        from rich.console import Console

        console = Console(stderr=True)
        self._status = (
            console.status("Measuring …", spinner="line")
            if console.is_terminal and not quiet
            else None
        )

    def __enter__(self) -> Self:
        if self._status is not None:
            self._status.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._status is not None:
            self._status.stop()

    def __call__(self, progress: Progress) -> None:
        """Show the progress."""
        if self._status is not None:
            self._status.update(line_of(progress))
