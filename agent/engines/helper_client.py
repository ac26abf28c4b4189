"""The agent's side of the helper process: start it bare, ask once, read one bounded line."""

from __future__ import annotations

import contextlib
import json
import os
import selectors
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import agent
from agent.clock import Clock, SystemClock
from agent.engines.helper_advertised import advertised_probe
from agent.engines.helper_answers import lease_probe, pppoe_probe
from agent.engines.linux_capabilities import CAP_NET_RAW, Account, die_with_parent, keep_only
from agent.errors import BadReply, CannotMeasure, InterfaceDown, RightMissing, TimedOut
from agent.measurements import AdvertisedProbe, LeaseProbe, PppoeProbe
from agent.ports.frames import Discover, Padi, Solicit

LONGEST_ANSWER = 1 << 17
STARTING_S = 5.0
"""What the helper may take beside listening: an interpreter and its frame library, 1 s idle."""

PROBING_S = 3.0
"""What asking for users of late offers may add to listening."""

ENDING_S = 2.0
NAME = "the helper process"
Answer = TypeVar("Answer")


QUESTIONS = 2
"""Helpers started: each serves one request, and a visit asks one question of each family."""


def start_helpers(account: Account) -> Helpers:
    """Start a helper for each question that a visit may ask. Raises OSError."""
    clients = []
    with contextlib.ExitStack() as undo:
        for _ in range(QUESTIONS):
            clients.append(start_helper(account))
            undo.callback(clients[-1].close)
        undo.pop_all()
    return Helpers(clients)


def start_helper(account: Account) -> HelperClient:
    """Start one helper with the raw-frame right and nothing else of ours.

    It runs as `account`, with an empty environment and no descriptor but the three pipes, and dies
    with this process. Raises OSError where the system refuses.
    """

    def bare() -> None:
        keep_only(1 << CAP_NET_RAW, account)
        die_with_parent(signal.SIGKILL)

    process = subprocess.Popen(
        [sys.executable, "-s", "-P", "-m", "agent.helper"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={"PYTHONPATH": str(Path(agent.__file__).parents[1]), "HOME": "/nonexistent"},
        cwd="/",
        close_fds=True,
        start_new_session=True,
        preexec_fn=bare,  # noqa: PLW1509 - runs before any thread exists, see split_rights
    )
    return HelperClient(process)


class Helpers:
    """A `FramePort` over helpers of which each serves one request and ends."""

    def __init__(self, clients: list[HelperClient]) -> None:
        self._idle = clients
        self._busy: list[HelperClient] = []
        self._lock = threading.Lock()

    @property
    def pids(self) -> tuple[int, ...]:
        """The helpers' processes."""
        return tuple(client.pid for client in (*self._busy, *self._idle))

    def discover(self, asked: Discover) -> LeaseProbe:
        """Send DISCOVERs through a helper and return what it heard.

        Raises TimedOut, BadReply, or what the helper says: RightMissing, InterfaceDown, BadReply.
        """
        line = self._take().ask(_offers_form(asked), asked.listen_s + PROBING_S)
        return read_answer(line, asked.interface)

    def concentrators(self, asked: Padi) -> PppoeProbe:
        """Send a PADI through a helper and return what it heard. Raises as `discover`."""
        line = self._take().ask(_port_form("concentrators", asked), asked.listen_s)
        return read_concentrators(line, asked.interface)

    def routers(self, asked: Solicit) -> AdvertisedProbe:
        """Ask routers and servers through a helper, return what it heard. Raises as `discover`."""
        line = self._take().ask(_port_form("routers", asked), asked.listen_s)
        return answer_of(line, asked.interface, advertised_probe)

    def close(self) -> None:
        """End every helper, those that are being asked too."""
        with self._lock:
            clients, self._idle, self._busy = [*self._idle, *self._busy], [], []
        for client in clients:
            client.close()

    def _take(self) -> HelperClient:
        with self._lock:
            if not self._idle:
                raise BadReply(address=NAME, problem="every one has served its request")
            self._busy.append(self._idle.pop(0))
            return self._busy[-1]


class HelperClient:
    """One helper, which serves one request and ends."""

    def __init__(self, process: subprocess.Popen[bytes], clock: Clock | None = None) -> None:
        self._process = process
        self._clock = clock or SystemClock()

    @property
    def pid(self) -> int:
        """The helper's process."""
        return self._process.pid

    def ask(self, form: Mapping[str, Any], within_s: float) -> bytes:
        """Return the helper's line for a request of its form; it may take `within_s` and a start.

        Raises TimedOut, BadReply where it has ended.
        """
        try:
            self._send(json.dumps(form).encode() + b"\n")
            return self._line(within_s + STARTING_S)
        finally:
            self.close()

    def close(self) -> None:
        """End the helper: by the end of its input, then by signal."""
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        if self._process.poll() is None:
            self._process.terminate()
        try:
            self._process.wait(ENDING_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def _send(self, line: bytes) -> None:
        pipe = self._process.stdin
        if pipe is None or pipe.closed:
            raise BadReply(address=NAME, problem="it serves one request only")
        try:
            pipe.write(line)
            pipe.close()
        except OSError as error:
            raise BadReply(address=NAME, problem="it has ended") from error

    def _line(self, within_s: float) -> bytes:
        """Return what the helper writes up to its end, bounded in size and time."""
        pipe = self._process.stdout
        assert pipe is not None
        ends_s = self._clock.monotonic_s() + within_s
        data = bytearray()
        with selectors.DefaultSelector() as selector:
            selector.register(pipe, selectors.EVENT_READ)
            while not data.endswith(b"\n") and len(data) <= LONGEST_ANSWER:
                left_s = ends_s - self._clock.monotonic_s()
                if left_s <= 0 or not selector.select(left_s):
                    raise TimedOut(address=NAME, after_s=within_s)
                part = os.read(pipe.fileno(), LONGEST_ANSWER)
                if not part:
                    break
                data += part
        return bytes(data)


def _offers_form(asked: Discover) -> dict[str, Any]:
    return {
        "want": "offers",
        "interface": asked.interface,
        "hardware_address": asked.hardware_address,
        "listen_s": asked.listen_s,
        "options": {str(code): value.hex() for code, value in asked.options},
        "held": list(asked.held),
        "presence": asked.presence,
    }


def _port_form(wish: str, asked: Padi | Solicit) -> dict[str, Any]:
    return {
        "want": wish,
        "interface": asked.interface,
        "hardware_address": asked.hardware_address,
        "listen_s": asked.listen_s,
    }


def read_answer(line: bytes, interface: str) -> LeaseProbe:
    """Return the probe in the helper's answer. Raises what it says instead, or BadReply."""
    return answer_of(line, interface, lease_probe)


def read_concentrators(line: bytes, interface: str) -> PppoeProbe:
    """Return the PPPoE discovery in the helper's answer. Raises as `read_answer`."""
    return answer_of(line, interface, pppoe_probe)


def answer_of(line: bytes, interface: str, read: Callable[[dict[str, Any]], Answer]) -> Answer:
    """Return what `read` makes of an answer's form. Raises what it says instead, or BadReply."""
    try:
        form = json.loads(line)
        if "error" in form:
            raise _said(form, interface)
        return read(form)
    except (ValueError, KeyError, TypeError, OverflowError, RecursionError) as error:
        raise BadReply(address=NAME, problem="no answer of its form") from error


def _said(form: dict[str, Any], interface: str) -> CannotMeasure:
    """Return the error that the helper reports; `code` is what the lease then gives as reason."""
    code, problem = str(form["error"]), str(form.get("problem", form["error"]))
    if code == "right-missing":
        return RightMissing(right="raw frames", purpose="the lease probe")
    if code == "interface":
        return InterfaceDown(interface=interface)
    return BadReply(address=NAME, problem=problem, code=code)
