"""The agent's side of the helper process: start it bare, ask once, read one bounded line."""

from __future__ import annotations

import contextlib
import json
import os
import selectors
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import agent
from agent.clock import Clock, SystemClock
from agent.engines.linux_capabilities import CAP_NET_RAW, Account, die_with_parent, keep_only
from agent.errors import BadReply, CannotMeasure, InterfaceDown, RightMissing, TimedOut
from agent.measurements import LeaseProbe, Offer
from agent.ports.frames import Discover

LONGEST_ANSWER = 1 << 17
STARTING_S = 5.0
"""What the helper may take beside listening: an interpreter and its frame library, 1 s idle."""

ENDING_S = 2.0
NAME = "the helper process"


def start_helper(account: Account) -> HelperClient:
    """Start the helper with the raw-frame right and nothing else of ours.

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


class HelperClient:
    """A `FramePort` over a helper that serves one request and ends."""

    def __init__(self, process: subprocess.Popen[bytes], clock: Clock | None = None) -> None:
        self._process = process
        self._clock = clock or SystemClock()

    @property
    def pid(self) -> int:
        """The helper's process."""
        return self._process.pid

    def discover(self, asked: Discover) -> LeaseProbe:
        """Send one DISCOVER through the helper and return what it heard.

        Raises TimedOut, BadReply, or what the helper says: RightMissing, InterfaceDown, BadReply.
        """
        within_s = asked.listen_s + STARTING_S
        try:
            self._send(_request(asked))
            line = self._line(within_s)
        finally:
            self.close()
        return read_answer(line, asked.interface)

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


def _request(asked: Discover) -> bytes:
    form = {
        "want": "offers",
        "interface": asked.interface,
        "hardware_address": asked.hardware_address,
        "listen_s": asked.listen_s,
        "options": {str(code): value.hex() for code, value in asked.options},
    }
    return json.dumps(form).encode() + b"\n"


def read_answer(line: bytes, interface: str) -> LeaseProbe:
    """Return the probe in the helper's answer. Raises what it says instead, or BadReply."""
    try:
        form = json.loads(line)
        if "error" in form:
            raise _said(form, interface)
        return LeaseProbe(
            sent=_number(form["sent"]),
            listened_s=float(form["listened_s"]),
            malformed=_number(form["malformed"]),
            offers=tuple(_offer(offer) for offer in form["offers"]),
        )
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


def _offer(form: dict[str, Any]) -> Offer:
    return Offer(
        after_ms=float(form["after_ms"]),
        server_id=_text(form["server_id"]),
        server_hardware_address=_text(form["server_hardware_address"]),
        address=str(form["address"]),
        lease_s=_perhaps(form["lease_s"]),
        t1_s=_perhaps(form["t1_s"]),
        t2_s=_perhaps(form["t2_s"]),
        subnet_mask=_text(form["subnet_mask"]),
        routers=tuple(map(str, form["routers"])),
        dns=tuple(map(str, form["dns"])),
    )


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def _perhaps(value: object) -> int | None:
    return None if value is None else _number(value)


def _number(value: object) -> int:
    if type(value) is not int:
        raise TypeError
    return value
