"""A program on a host of the practice network, seen from outside."""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import time
from collections.abc import Callable
from types import TracebackType
from typing import IO, Self

PIPE = subprocess.PIPE
DEVNULL = subprocess.DEVNULL
Signaller = Callable[[int, int], None]


class LineReader:
    """Lines of a status pipe, each awaited with a time limit."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor
        self._pending = b""

    def next(self, within_s: float | None) -> dict[str, object] | None:
        """Return the next line, {} once the writer has gone, None when the time is over."""
        deadline = None if within_s is None else time.monotonic() + within_s
        while b"\n" not in self._pending:
            left = None if deadline is None else max(0.0, deadline - time.monotonic())
            if not select.select((self._descriptor,), (), (), left)[0]:
                return None
            data = os.read(self._descriptor, 65536)
            if not data:
                return {}
            self._pending += data
        line, _, self._pending = self._pending.partition(b"\n")
        document: dict[str, object] = json.loads(line)
        return document

    def close(self) -> None:
        """Close the pipe."""
        os.close(self._descriptor)


class HostProcess:
    """Like subprocess.Popen, for a process that the supervisor holds.

    `pid` is the process id inside the network's own process namespace.
    """

    def __init__(
        self,
        argv: list[str],
        status: LineReader,
        signaller: Signaller,
        streams: tuple[IO[bytes] | None, IO[bytes] | None, IO[bytes] | None],
        pid: int,
    ) -> None:
        self.args = argv
        self.pid = pid
        self.stdin, self.stdout, self.stderr = streams
        self.returncode: int | None = None
        self._status = status
        self._signaller = signaller
        self._closed = False

    def poll(self) -> int | None:
        """Return the exit status, None while it runs."""
        return self._look(0.0)

    def wait(self, timeout: float | None = None) -> int:
        """Wait for the end and return the exit status. Raises subprocess.TimeoutExpired."""
        result = self._look(timeout)
        if result is None:
            raise subprocess.TimeoutExpired(self.args, timeout or 0.0)
        return result

    def _look(self, within_s: float | None) -> int | None:
        if self.returncode is None:
            line = self._status.next(within_s)
            if line is not None:
                ended = line.get("ended", -signal.SIGKILL)
                self.returncode = int(str(ended))
        return self.returncode

    def send_signal(self, number: int) -> None:
        """Send a signal if it still runs."""
        if self.poll() is None:
            self._signaller(self.pid, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it."""
        self.send_signal(signal.SIGKILL)

    def communicate(self, text: bytes = b"", timeout: float | None = None) -> tuple[bytes, bytes]:
        """Send the input, read both outputs to their end, wait. Raises subprocess.TimeoutExpired.

        The input must fit into a pipe (64 KiB).
        """
        deadline = None if timeout is None else time.monotonic() + timeout
        if self.stdin:
            self.stdin.write(text)
            self.stdin.close()
        gathered = self._drain(deadline)
        self.wait(None if deadline is None else max(0.0, deadline - time.monotonic()))
        return gathered

    def _drain(self, deadline: float | None) -> tuple[bytes, bytes]:
        found = {stream: bytearray() for stream in (self.stdout, self.stderr) if stream}
        open_streams = set(found)
        while open_streams:
            left = None if deadline is None else max(0.0, deadline - time.monotonic())
            ready = select.select(open_streams, (), (), left)[0]
            if not ready:
                raise subprocess.TimeoutExpired(self.args, 0.0, *map(bytes, found.values()))
            for stream in ready:
                data = os.read(stream.fileno(), 65536)
                found[stream] += data
                if not data:
                    open_streams.discard(stream)
        return _of(found, self.stdout), _of(found, self.stderr)

    def close(self) -> None:
        """End it if it still runs and close every stream; once is enough."""
        if self._closed:
            return
        self._closed = True
        self.kill()
        self._look(10.0)
        for stream in (self.stdin, self.stdout, self.stderr):
            if stream:
                stream.close()
        self._status.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _of(found: dict[IO[bytes], bytearray], stream: IO[bytes] | None) -> bytes:
    return bytes(found[stream]) if stream else b""
