"""Starts a program on a host: its network, for the laptop its files, with or without rights."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NoReturn

from agent.practice.kernel import CLONE_NEWNET, CLONE_NEWNS, drop_capabilities, enter

NOT_STARTED = 127
"""The shell's status for a command that cannot be found or run (POSIX XCU 2.8.2)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """The namespaces of one host, as descriptors; `files` None shares the supervisor's."""

    network: int
    files: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """What to run; `streams` are the descriptors for 0, 1 and 2.

    `plain` gives up every capability first; `attached` keeps the terminal's process group.
    """

    argv: Sequence[str]
    environment: Mapping[str, str]
    folder: str
    streams: tuple[int, int, int]
    plain: bool = False
    attached: bool = False


def start(place: Place, program: Program) -> int:
    """Start a program and return its process id."""
    return fork_into(place, lambda: _execute(program), attached=program.attached)


def fork_into(place: Place, body: Callable[[], None], *, attached: bool = False) -> int:
    """Fork a child that enters the place, runs the body and ends; return its process id.

    It leaves the terminal's group unless `attached`: Ctrl-C is meant for the visit, not for the
    network under it.
    """
    child = os.fork()
    if child == 0:
        _live(place, body, attached=attached)
    return child


def _live(place: Place, body: Callable[[], None], *, attached: bool) -> NoReturn:
    try:
        if not attached:
            os.setsid()
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGCHLD, signal.SIGPIPE):
            signal.signal(number, signal.SIG_DFL)
        signal.set_wakeup_fd(-1)
        if place.files is not None:
            enter(place.files, CLONE_NEWNS)
        enter(place.network, CLONE_NEWNET)
        body()
    except BaseException as error:  # noqa: BLE001 - a forked child must never return
        os.write(2, f"{type(error).__name__}: {error}\n".encode())
        os._exit(NOT_STARTED)
    os._exit(0)


def _execute(program: Program) -> None:
    kept = [os.dup(stream) for stream in program.streams]
    for number, stream in enumerate(kept):
        os.dup2(stream, number, inheritable=True)
    os.chdir(program.folder)
    if program.plain:
        drop_capabilities()
    os.execvpe(program.argv[0], list(program.argv), dict(program.environment))  # noqa: S606
