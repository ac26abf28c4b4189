"""Ways on macOS: the routing socket is asked, nothing is sent to any network.

Reading the table needs no right. Written after the system's published headers and sources; never
run on a real system.
"""

from __future__ import annotations

import itertools
import os
import socket
from collections.abc import Callable
from contextlib import suppress

from agent.clock import Clock, SystemClock
from agent.codec.bsd_route import RouteAnswer, decode_answer, encode_question
from agent.engines.portable_facts import FoundWay
from agent.errors import MalformedMessage

PF_ROUTE = 17
LARGEST = 2048
WAITING_S = 1.0
MOST_MESSAGES = 200
"""A busy table tells every listener of its changes; this many are read past."""

ANYWHERE = {4: "0.0.0.0", 6: "::"}  # noqa: S104 - the default destination; nothing is bound


def open_route_socket() -> socket.socket:
    """Return a routing socket; raises OSError."""
    return socket.socket(PF_ROUTE, socket.SOCK_RAW, 0)


class MacWays:
    """Asks the kernel's table, one socket for each question; see `Ways`."""

    def __init__(
        self,
        opener: Callable[[], socket.socket] = open_route_socket,
        *,
        clock: Clock | None = None,
        index_of: Callable[[str], int] = socket.if_nametoindex,
        name_of: Callable[[int], str] = socket.if_indextoname,
    ) -> None:
        self._opener = opener
        self._clock = clock or SystemClock()
        self._index_of = index_of
        self._name_of = name_of
        self._numbers = itertools.count(1)

    def towards(self, address: str) -> FoundWay | None:
        """Return the way to an address in force, None where there is none."""
        return self._found(address.partition("%")[0], 0)

    def default_gateway(
        self,
        interface: str,
        addresses: tuple[str, ...],  # noqa: ARG002 - the name is enough here
        family: int,
    ) -> str | None:
        """Return the router of the default way over one interface, None where there is none."""
        try:
            index = self._index_of(interface)
        except OSError:
            return None
        found = self._found(ANYWHERE[family], index)
        return found.gateway if found and found.interface == interface else None

    def _found(self, address: str, index: int) -> FoundWay | None:
        try:
            answer = self._ask(address, index)
            if answer is None or answer.error or answer.refused:
                return None
            return FoundWay(gateway=answer.gateway, interface=self._name_of(answer.index))
        except OSError:
            return None

    def _ask(self, address: str, index: int) -> RouteAnswer | None:
        """Return the kernel's answer; raises OSError, ESRCH among them where no way leads there."""
        number, process = next(self._numbers), os.getpid()
        question = encode_question(address, sequence=number, process=process, index=index)
        ends_s = self._clock.monotonic_s() + WAITING_S
        with self._opener() as sock:
            sock.settimeout(WAITING_S)
            sock.send(question)
            for _ in range(MOST_MESSAGES):
                left_s = ends_s - self._clock.monotonic_s()
                if left_s <= 0:
                    break
                sock.settimeout(left_s)
                with suppress(MalformedMessage):
                    answer = decode_answer(sock.recv(LARGEST))
                    if answer and (answer.sequence, answer.process) == (number, process):
                        return answer
        return None
