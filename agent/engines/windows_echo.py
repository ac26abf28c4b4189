"""Echo on Windows without rights: every probe is one blocking call in a thread of its own.

The call gives whole milliseconds, so the time around it is taken instead, from this program's own
finest clock: an upper bound of the round trip, some tens of microseconds above it. The structures
and calls are the vendor's documented ones; this engine was never run on a real system.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from agent.codec.windows_echo import (
    SUCCESS,
    EchoStatus,
    decode_echo_reply,
    decode_echo_reply_6,
    icmp_of,
)
from agent.errors import CannotMeasure, MalformedMessage, NotTaken
from agent.measurements import StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Event, Failed, Received, Sent
from agent.units import NS_PER_S

WAITING_MS = 3_000
"""Longer than any plan waits, so that the schedule decides what is late."""

MOST_AT_ONCE = 256
"""Calls under way; each holds a thread until its answer or the end of the wait."""

HOP_LIMIT = 128


@dataclass(frozen=True, slots=True, kw_only=True)
class EchoCall:
    """One echo to be sent; `waiting_ms` milliseconds at most are waited for its end."""

    source: str | None
    target: str
    payload: bytes
    hop_limit: int = HOP_LIMIT
    waiting_ms: int = WAITING_MS


class EchoCalls(Protocol):
    """The system's calls; see `IpHelper`."""

    def open(self, family: int) -> int:
        """Return a handle for echo of a family; raises CannotMeasure."""
        ...

    def close(self, handle: int) -> None:
        """Give a handle back."""
        ...

    def echo(self, handle: int, asked: EchoCall) -> tuple[bytes, int]:
        """Send one echo and return the reply buffer with its address, empty for none."""
        ...


class WindowsEchoSocket:
    """Echo towards one address; see `ProbeSocket`."""

    protocol = "icmp"

    def __init__(
        self,
        calls: EchoCalls,
        binding: Binding,
        address: str,
        *,
        now_ns: Callable[[], int] = time.perf_counter_ns,
        monotonic_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self._calls = calls
        self._address = address
        self._family = 6 if ":" in address else 4
        self._source = binding.source(self._family)
        self._now_ns = now_ns
        # The finest clock and the one all stamps are told in differ by a constant.
        self._offset_ns = monotonic_ns() - now_ns()
        self._handle = calls.open(self._family)
        self._heard: queue.SimpleQueue[Event] = queue.SimpleQueue()
        self._room = threading.Semaphore(MOST_AT_ONCE)
        self._threads: list[threading.Thread] = []
        self._sent = 0
        self._closed = False

    @property
    def clock_steps(self) -> int:
        """Return 0: no wall clock is read."""
        return 0

    def send(self, payload: bytes, hop_limit: int | None = None) -> int:
        """Send one echo now and return its index; raises NotTaken while too many are under way."""
        if self._closed or not self._room.acquire(blocking=False):
            raise NotTaken(address=self._address, problem="too many echoes are under way")
        index = self._sent
        self._sent += 1
        asked = EchoCall(
            source=self._source,
            target=self._address,
            payload=payload,
            hop_limit=hop_limit or HOP_LIMIT,
        )
        thread = threading.Thread(target=self._run, args=(index, asked), daemon=True)
        self._threads = [one for one in self._threads if one.is_alive()]
        self._threads.append(thread)
        thread.start()
        return index

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Return what happened, waiting at most `timeout_s` for something to happen."""
        events: list[Event] = []
        try:
            events.append(self._heard.get(timeout=max(0.0, timeout_s)))
            while True:
                events.append(self._heard.get_nowait())
        except queue.Empty:
            return tuple(events)

    def close(self) -> None:
        """Give the handle back once the calls under way have ended; closing twice is harmless."""
        if self._closed:
            return
        self._closed = True
        threading.Thread(target=self._close_when_idle, daemon=True).start()

    def _close_when_idle(self) -> None:
        for thread in self._threads:
            thread.join()
        self._calls.close(self._handle)

    def _run(self, index: int, asked: EchoCall) -> None:
        try:
            before_ns = self._now_ns()
            buffer, base = self._calls.echo(self._handle, asked)
            after_ns = self._now_ns()
            self._heard.put(Sent(index=index, at_s=self._at_s(before_ns)))
            self._tell(self._decode(buffer, base), asked.payload, index, self._at_s(after_ns))
        except CannotMeasure:
            return
        finally:
            self._room.release()

    def _tell(self, status: EchoStatus | None, payload: bytes, index: int, at_s: float) -> None:
        if status is None:
            return
        if status.status == SUCCESS:
            self._heard.put(_answer(status, payload, index, at_s, self._family))
            return
        kind = icmp_of(status.status, self._family)
        if kind is not None:
            # The call matched the error to its probe; the quote itself is not handed over.
            self._heard.put(
                Failed(
                    icmp_type=kind[0],
                    icmp_code=kind[1],
                    at_s=at_s,
                    clock=StampClock.USER,
                    source=status.source,
                    quoted=payload,
                )
            )

    def _decode(self, buffer: bytes, base: int) -> EchoStatus | None:
        if not buffer:
            return None
        try:
            if self._family == 4:
                return decode_echo_reply(buffer, base)
            return decode_echo_reply_6(buffer)
        except MalformedMessage:
            return None

    def _at_s(self, stamp_ns: int) -> float:
        return (stamp_ns + self._offset_ns) / NS_PER_S


def _answer(status: EchoStatus, payload: bytes, index: int, at_s: float, family: int) -> Received:
    """Return the answer; IPv6 hands no data back, and the call itself matched it to the probe."""
    return Received(
        payload=status.data if family == 4 else payload,
        at_s=at_s,
        clock=StampClock.USER,
        source=status.source,
        sequence=index & 0xFFFF,
    )
