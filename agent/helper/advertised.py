"""Routers and DHCPv6 servers of a link: solicitations that take nothing, and who answers."""

from __future__ import annotations

import random
import secrets
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from ipaddress import IPv6Address
from pathlib import Path
from typing import Any

from agent.clock import Clock
from agent.codec import dhcp6, ipv6
from agent.codec import router_advertisement as ra
from agent.codec.ipv6 import Packet
from agent.helper.advertised_hearing import AdvertisedHearing
from agent.helper.port import RawPort, refuse_other
from agent.helper.request import RoutersWanted

ADDRESSES = Path("/proc/net/if_inet6")
LINK_SCOPE = "20"
"""IPV6_ADDR_LINKLOCAL as /proc/net/if_inet6 writes it (linux/ipv6.h)."""

UNSPECIFIED = "::"
SPREAD = 0.1
MOST_ASKED = 3
"""Silence is asked again: one frame may be lost anywhere. RFC 4861 §10 has three solicitations of
routers; those of servers follow the waits of RFC 8415 §15 and are as many."""


@dataclass(kw_only=True)
class _Question:
    """One message and when it is sent: once, and again while nobody answers."""

    send: Callable[[float], None]
    waits_s: Iterator[float]
    answered: Callable[[], bool]
    sent: int = 0
    due_s: float = field(default=0.0)

    def ask(self, after_s: float) -> None:
        """Send what is due `after_s` after the beginning."""
        wanted = self.sent == 0 or (self.sent < MOST_ASKED and not self.answered())
        if wanted and after_s >= self.due_s:
            self.send(after_s)
            self.sent += 1
            self.due_s = after_s + next(self.waits_s)


def hear_routers(wanted: RoutersWanted, clock: Clock) -> dict[str, Any]:
    """Ask routers and servers to speak, take nothing, and return all heard in `listen_s`.

    Servers are asked from the port's own address of the link, and not at all without one. Raises
    Refusal where the hardware address is not the port's own, OSError for the port.
    """
    refuse_other(wanted.interface, wanted.hardware_address)
    with RawPort(wanted.interface, ipv6.ETHERTYPE) as port:
        port.join(wanted.interface, ipv6.group_frame_address(ra.ALL_NODES))
        return _Exchange(wanted, port, clock).run()


class _Exchange:
    """The three questions and what comes of them."""

    def __init__(self, wanted: RoutersWanted, port: RawPort, clock: Clock) -> None:
        self._wanted, self._port, self._clock = wanted, port, clock
        self._own = link_address(wanted.interface, ADDRESSES)
        self._duid = dhcp6.link_layer_duid(wanted.hardware_address)
        self._identity = secrets.randbits(32)
        self._hearing = AdvertisedHearing(
            client_id=self._duid,
            own=wanted.hardware_address,
            solicit=secrets.randbits(24),
            information=secrets.randbits(24),
        )

    def run(self) -> dict[str, Any]:
        """Send what is due, hear all, and return the answer's form."""
        routers, servers, information = questions = self._questions()
        asked = questions if self._own else (routers,)
        begun_s = self._clock.monotonic_s()
        while (after_s := self._clock.monotonic_s() - begun_s) < self._wanted.listen_s:
            for question in asked:
                question.ask(after_s)
            heard = self._port.receive(min(_TICK_S, self._wanted.listen_s - after_s))
            if heard is not None:
                self._hearing.hear(heard[1], heard[0], (self._clock.monotonic_s() - begun_s) * 1000)
        return {
            "routers_asked": routers.sent,
            "servers_asked": servers.sent,
            "information_asked": information.sent,
            "listened_s": self._clock.monotonic_s() - begun_s,
            "malformed": self._hearing.malformed,
            "far": self._hearing.far,
            "routers": self._hearing.routers,
            "servers": self._hearing.servers,
        }

    def _questions(self) -> tuple[_Question, _Question, _Question]:
        hearing = self._hearing
        return (
            _Question(
                send=self._solicit_routers,
                waits_s=_every(ra.SOLICIT_EVERY_S),
                answered=lambda: bool(hearing.routers),
            ),
            _Question(
                send=self._solicit_servers,
                waits_s=dhcp6.SOLICIT_AGAIN.waits_s(_spread()),
                answered=lambda: hearing.heard("advertise"),
            ),
            _Question(
                send=self._ask_information,
                waits_s=dhcp6.INFORMATION_AGAIN.waits_s(_spread()),
                answered=lambda: hearing.heard("reply"),
            ),
        )

    def _solicit_routers(self, _after_s: float) -> None:
        self._send(ra.solicitation(self._own or UNSPECIFIED, self._wanted.hardware_address))

    def _solicit_servers(self, after_s: float) -> None:
        asked = dhcp6.solicit(self._hearing.solicit, self._duid, self._identity, after_s)
        self._send(self._to_servers(asked))

    def _ask_information(self, after_s: float) -> None:
        asked = dhcp6.information_request(self._hearing.information, self._duid, after_s)
        self._send(self._to_servers(asked))

    def _to_servers(self, message: dhcp6.Dhcp6Message) -> Packet:
        datagram = ipv6.Datagram(
            source_port=dhcp6.CLIENT_PORT,
            destination_port=dhcp6.SERVER_PORT,
            data=dhcp6.encode(message),
        )
        return ipv6.datagram_packet(self._own or UNSPECIFIED, dhcp6.ALL_SERVERS, datagram)

    def _send(self, packet: Packet) -> None:
        group = ipv6.group_frame_address(packet.destination)
        self._port.send(self._wanted.hardware_address, ipv6.encode(packet), group)


_TICK_S = 0.1


def link_address(interface: str, file: Path) -> str | None:
    """Return the port's own address of the link, None where it has none (proc(5), if_inet6)."""
    try:
        lines = file.read_text(encoding="ascii").splitlines()
    except OSError:
        return None
    for fields in map(str.split, lines):
        if len(fields) == 6 and fields[5] == interface and fields[3] == LINK_SCOPE:
            return str(IPv6Address(bytes.fromhex(fields[0])))
    return None


def _every(wait_s: float) -> Iterator[float]:
    while True:
        yield wait_s


def _spread() -> Iterator[float]:
    while True:
        yield random.uniform(-SPREAD, SPREAD)
