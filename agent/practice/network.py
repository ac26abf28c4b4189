"""The practice network as a context manager: builds it, runs programs on its hosts, ends it."""

from __future__ import annotations

import json
import mmap
import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Self

import agent
from agent.errors import PracticeRefused
from agent.practice import faults
from agent.practice.addresses import plan_addresses
from agent.practice.line import LineSpec
from agent.practice.orders import send_order, spec_document
from agent.practice.process import HostProcess, LineReader
from agent.practice.relay import COUNTERS, WAYS
from agent.practice.topology import LAPTOP_PORT, core_names

Scalar = str | float | bool | None

BUILD_WITHIN_S = 60.0
START_WITHIN_S = 10.0
PIPE = subprocess.PIPE
DEVNULL = subprocess.DEVNULL
OWN_NAMESPACES = ("--net", "--mount", "--pid", "--ipc", "--fork", "--kill-child", "--mount-proc")
USER_MAP = ("--user", "--map-user=1000", "--map-group=1000", "--keep-caps")
REMEDY = "Run as root, or allow unprivileged user namespaces on this computer."


FOLDER = "/dev/shm"  # noqa: S108 - in there a private file system


class Host:
    """One host of a running network."""

    def __init__(self, network: PracticeNetwork, name: str, address: str | None) -> None:
        self._network = network
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
        network's own folder FOLDER, which no one outside sees. Raises PracticeRefused, OSError.
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
        return self._network.start(order, (stdin, stdout, stderr))

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


class PracticeNetwork:
    """A line and the hosts on both sides of it, alive inside the `with` block.

    Hosts: `laptop` (port `interface`), `router`, `modem`, `edge`, `core`, `server`, `outside`;
    `host(name)` also gives `line` and `core1` …. Raises PracticeRefused where namespaces are not
    allowed.
    """

    interface = LAPTOP_PORT

    def __init__(self, spec: LineSpec) -> None:
        self.spec = spec
        self.struck = faults.as_struck(spec)
        self.addresses = plan_addresses(spec.seed, spec.hops)
        self.built: dict[str, Any] = {}
        self._processes: list[HostProcess] = []
        self._counters = os.memfd_create("counters")
        self._log = os.memfd_create("losses")
        os.ftruncate(self._counters, mmap.PAGESIZE)

    def __enter__(self) -> Self:
        self._channel, far = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        try:
            self._supervisor = _start_supervisor(far)
        except OSError as error:
            raise PracticeRefused(problem=error, remedy=REMEDY) from error
        finally:
            far.close()
        try:
            self.built = self._build()
        except BaseException:
            self.close()
            raise
        return self

    def _build(self) -> dict[str, Any]:
        reader, status = _pipe_to_us()
        order = {"order": "build", "spec": spec_document(self.spec)}
        with suppress(BrokenPipeError, ConnectionResetError):
            send_order(self._channel, order, (status, self._counters, self._log))
        os.close(status)
        answer = reader.next(BUILD_WITHIN_S)
        reader.close()
        if answer and "refused" not in answer:
            return answer
        raise PracticeRefused(problem=self._complaint(answer), remedy=REMEDY)

    def _complaint(self, answer: Mapping[str, object] | None) -> str:
        if answer:
            return str(answer["refused"])
        self._supervisor.kill()
        _, complaint = self._supervisor.communicate()
        lines = complaint.decode(errors="replace").strip().splitlines()
        return lines[-1] if lines else "the namespaces could not be built in time"

    def start(self, order: Mapping[str, Any], streams: Sequence[int | None]) -> HostProcess:
        """Start a program as ordered; used by Host."""
        reader, status = _pipe_to_us()
        given, ours = zip(*map(_stream, range(3), streams), strict=True)
        send_order(self._channel, order, (status, *given))
        os.close(status)
        for descriptor, own, stream in zip(given, ours, streams, strict=True):
            if own is not None or stream == DEVNULL:
                os.close(descriptor)
        answer = reader.next(START_WITHIN_S)
        if not answer or "process" not in answer:
            raise PracticeRefused(problem=(answer or {}).get("refused", "gone"), remedy=REMEDY)
        pid = int(str(answer["process"]))
        process = HostProcess(order["argv"], reader, self._signal, (ours[0], ours[1], ours[2]), pid)
        self._processes.append(process)
        return process

    def _signal(self, process: int, number: int) -> None:
        send_order(self._channel, {"order": "signal", "process": process, "number": number}, ())

    def host(self, name: str) -> Host:
        """Return a host by name."""
        known = {
            "laptop": self.built.get("laptop"),
            "router": self.addresses.router,
            "modem": self.addresses.modem,
            "edge": self.addresses.edge,
            "server": self.addresses.server,
            "outside": self.addresses.outside,
        }
        pairs = zip(core_names(self.spec.hops), self.addresses.core, strict=True)
        return Host(self, name, known.get(name) or {n: pair[1] for n, pair in pairs}.get(name))

    def __getattr__(self, name: str) -> Host:
        if name in ("laptop", "router", "modem", "edge", "core", "server", "outside"):
            return self.host(name)
        raise AttributeError(name)

    def counters(self) -> dict[str, dict[str, int]]:
        """Return what the line did so far: way ("up", "down") to counter to frames."""
        values = memoryview(os.pread(self._counters, 8 * len(WAYS) * len(COUNTERS), 0)).cast("Q")
        width = len(COUNTERS)
        return {
            way: dict(zip(COUNTERS, values[place * width :], strict=False))
            for place, way in enumerate(WAYS)
        }

    def losses(self) -> tuple[dict[str, Any], ...]:
        """Return every packet that the line lost: way, monotonic seconds, its first octets."""
        size = os.fstat(self._log).st_size
        return tuple(json.loads(line) for line in os.pread(self._log, size, 0).splitlines())

    def truth(self) -> dict[str, Scalar]:
        """Return what the line really is: rates at the frame layer, delay, losses, segment."""
        spec = self.struck
        return {
            "down_bps": spec.shaped_down_bps,
            "up_bps": spec.shaped_up_bps,
            "layer": "frame",
            "rtt_ms": spec.rtt_ms,
            "jitter_ms": spec.jitter_ms,
            "loss_down": spec.loss_down,
            "loss_up": spec.loss_up,
            "segment": faults.segment_of(spec),
            "translated": bool(self.built.get("translates")),
            "seed": spec.seed,
        }

    def close(self) -> None:
        """End every process and namespace of the network."""
        for process in self._processes:
            process.close()
        self._processes.clear()
        self._channel.close()
        self._supervisor.wait()
        if self._supervisor.stderr:
            self._supervisor.stderr.close()
        os.close(self._counters)
        os.close(self._log)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _start_supervisor(channel: socket.socket) -> subprocess.Popen[bytes]:
    user_map = () if os.geteuid() == 0 else USER_MAP
    unshare = shutil.which("unshare") or "unshare"
    module = [sys.executable, "-m", "agent.practice.supervisor", str(channel.fileno())]
    root = str(Path(agent.__file__).resolve().parent.parent)
    path = os.pathsep.join(part for part in (root, os.environ.get("PYTHONPATH")) if part)
    return subprocess.Popen(
        [unshare, *user_map, *OWN_NAMESPACES, *module],
        pass_fds=(channel.fileno(),),
        stdin=DEVNULL,
        stderr=PIPE,
        env={**os.environ, "PYTHONPATH": path},
    )


def _pipe_to_us() -> tuple[LineReader, int]:
    heard, status = os.pipe()
    return LineReader(heard), status


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
