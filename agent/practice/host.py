"""One host of a running practice network: programs are started on it from outside."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from agent.practice.process import DEVNULL, PIPE, HostProcess

FOLDER = "/dev/shm"  # noqa: S108 - in there a private file system
Starter = Callable[[Mapping[str, Any], Sequence[int | None]], HostProcess]


class Host:
    """One host of a running network."""

    def __init__(self, start: Starter, name: str, address: str | None) -> None:
        self._start = start
        self.name = name
        self.address = address

    def popen(
        self,
        argv: Sequence[str | os.PathLike[str]],
        *,
        stdin: int | None = DEVNULL,
        stdout: int | None = PIPE,
        stderr: int | None = PIPE,
        env: Mapping[str, str] | None = None,
        cwd: str | os.PathLike[str] | None = None,
        plain: bool = False,
        attached: bool = False,
        files: Mapping[str, str] | None = None,
    ) -> HostProcess:
        """Start a program; streams are PIPE, DEVNULL, None (ours) or a descriptor.

        `plain` takes every capability from it first. `attached` leaves it in the terminal's
        foreground group, so that Ctrl-C reaches it. `files` are written first, by name, into the
        network's own folder FOLDER, which no one outside sees. Raises PracticeBroken.
        """
        order = {
            "order": "start",
            "host": self.name,
            "argv": [os.fspath(part) for part in argv],
            "environment": dict(os.environ if env is None else env),
            "folder": os.fspath(cwd or Path.cwd()),
            "plain": plain,
            "attached": attached,
            "files": dict(files or {}),
        }
        return self._start(order, (stdin, stdout, stderr))

    def run(
        self,
        argv: Sequence[str | os.PathLike[str]],
        *,
        timeout: float,
        input: bytes = b"",  # noqa: A002 - as subprocess.run names it
        check: bool = False,
        env: Mapping[str, str] | None = None,
        cwd: str | os.PathLike[str] | None = None,
        plain: bool = False,
    ) -> subprocess.CompletedProcess[str]:
        """Run a program to its end and return its outputs as text.

        Raises subprocess.TimeoutExpired, subprocess.CalledProcessError with `check`.
        """
        with self.popen(
            argv, stdin=PIPE if input else DEVNULL, env=env, cwd=cwd, plain=plain
        ) as process:
            out, err = process.communicate(input, timeout)
            done = subprocess.CompletedProcess(
                process.args, process.wait(), out.decode(), err.decode()
            )
        if check:
            done.check_returncode()
        return done
