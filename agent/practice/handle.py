"""The outside's hold on a supervisor: start it, order, end it."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import IO, Any

import agent
from agent.errors import PracticeBroken, PracticeRefused
from agent.practice.orders import send_order
from agent.practice.process import DEVNULL, PIPE, HostProcess, LineReader

BUILD_WITHIN_S = 60.0
START_WITHIN_S = 10.0
OWN_NAMESPACES = ("--net", "--mount", "--pid", "--ipc", "--fork", "--kill-child", "--mount-proc")
USER_MAP = ("--user", "--map-user=1000", "--map-group=1000", "--keep-caps")
REMEDY = "Run as root, or allow unprivileged user namespaces on this computer."


class Supervision:
    """A running supervisor. Raises PracticeRefused where namespaces cannot be made."""

    def __init__(self) -> None:
        self._channel, far = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self._processes: list[HostProcess] = []
        try:
            self._supervisor = _start_supervisor(far)
        except OSError as error:
            self._channel.close()
            raise PracticeRefused(problem=error, remedy=REMEDY) from error
        finally:
            far.close()

    def build(self, spec: Mapping[str, Any], counters: int, log: int) -> dict[str, Any]:
        """Build the network of a specification and return what the supervisor says of it.

        Raises PracticeRefused, PracticeBroken.
        """
        reader, answer = self._ask(
            {"order": "build", "spec": spec}, (counters, log), BUILD_WITHIN_S
        )
        reader.close()
        if answer and "broken" in answer:
            raise PracticeBroken(problem=answer["broken"])
        if not answer or "refused" in answer:
            raise PracticeRefused(problem=self._complaint(answer), remedy=REMEDY)
        return answer

    def _ask(
        self, order: Mapping[str, Any], descriptors: Sequence[int], within_s: float
    ) -> tuple[LineReader, dict[str, Any] | None]:
        heard, status = os.pipe()
        reader = LineReader(heard)
        # A supervisor that is gone already shows as the end of the status pipe.
        with suppress(BrokenPipeError, ConnectionResetError):
            send_order(self._channel, order, (status, *descriptors))
        os.close(status)
        return reader, reader.next(within_s)

    def _complaint(self, answer: Mapping[str, Any] | None) -> str:
        if answer:
            return str(answer["refused"])
        self._supervisor.kill()
        _, complaint = self._supervisor.communicate()
        lines = complaint.decode(errors="replace").strip().splitlines()
        return lines[-1] if lines else "the namespaces could not be built in time"

    def start(self, order: Mapping[str, Any], streams: Sequence[int | None]) -> HostProcess:
        """Start a program as ordered. Raises PracticeBroken."""
        given, ours = zip(*map(_stream, range(3), streams), strict=True)
        reader, answer = self._ask(order, given, START_WITHIN_S)
        for descriptor, own, stream in zip(given, ours, streams, strict=True):
            if own is not None or stream == DEVNULL:
                os.close(descriptor)
        if not answer or "process" not in answer:
            reader.close()
            raise PracticeBroken(problem=f"{order['argv'][0]} could not be started")
        pid = int(answer["process"])
        process = HostProcess(order["argv"], reader, self._signal, (ours[0], ours[1], ours[2]), pid)
        self._processes.append(process)
        return process

    def _signal(self, process: int, number: int) -> None:
        send_order(self._channel, {"order": "signal", "process": process, "number": number}, ())

    def close(self) -> None:
        """End the supervisor and with it every process and namespace."""
        for process in self._processes:
            process.close()
        self._channel.close()
        if self._supervisor.stderr and not self._supervisor.stderr.closed:
            self._supervisor.communicate()


def _start_supervisor(channel: socket.socket) -> subprocess.Popen[bytes]:
    user_map = () if os.geteuid() == 0 else USER_MAP
    unshare = shutil.which("unshare") or "unshare"
    module = [sys.executable, "-m", "agent.practice.supervisor", str(channel.fileno())]
    return subprocess.Popen(
        [unshare, *user_map, *OWN_NAMESPACES, *module],
        pass_fds=(channel.fileno(),),
        stdin=DEVNULL,
        stderr=PIPE,
        env={**os.environ, "PYTHONPATH": python_path(os.environ)},
    )


def python_path(environment: Mapping[str, str]) -> str:
    """Return a PYTHONPATH on which this very agent is found, wherever it is run from."""
    root = str(Path(agent.__file__).resolve().parent.parent)
    return os.pathsep.join(part for part in (root, environment.get("PYTHONPATH")) if part)


def _stream(number: int, wanted: int | None) -> tuple[int, IO[bytes] | None]:
    """Return the descriptor to hand over and our end of the pipe, if one was wanted."""
    if wanted is None:
        return number, None
    if wanted == DEVNULL:
        return os.open(os.devnull, os.O_RDWR | os.O_CLOEXEC), None
    if wanted != PIPE:
        return wanted, None
    there, here = os.pipe()
    if number == 0:
        return there, os.fdopen(here, "wb", 0)
    return here, os.fdopen(there, "rb", 0)
