"""Raw frames through scapy: the only place that touches it, and its `conf`."""

from __future__ import annotations

import fcntl
import secrets
import socket
import struct
from typing import Any

from agent.clock import Clock
from agent.codec import dhcp
from agent.helper.offers import Hearing
from agent.helper.request import OffersWanted, Refusal
from agent.helper.sieve import hear_dhcp_alone

SIOCGIFHWADDR = 0x8927
AGAIN_AFTER_S = 2.5
"""When a DISCOVER that nobody answered is sent once more: one frame may be lost anywhere. Sooner
than RFC 2131 §4.1 prescribes for clients (4 s), so that a slow server is still heard in 6 s."""

READY_WITHIN_S = 3.0
HEARD_TICK_S = 0.1


def discover(wanted: OffersWanted, clock: Clock) -> dict[str, Any]:
    """Send DISCOVER, never REQUEST, and return every OFFER heard in `listen_s`.

    Raises Refusal where the hardware address is not the port's own, OSError for the port.
    """
    if own_address(wanted.interface) != wanted.hardware_address:
        raise Refusal("hardware_address is not the port's own")
    hearing = Hearing(xid=secrets.randbits(32), hardware_address=wanted.hardware_address)
    return _Exchange(wanted, hearing, clock).run()


def own_address(interface: str) -> bytes:
    """Return the hardware address of a port. Raises OSError where there is no such port."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        asked = struct.pack("256s", interface.encode()[:15])
        return fcntl.ioctl(sock, SIOCGIFHWADDR, asked)[18:24]


class _Exchange:
    """One DISCOVER and what comes of it; scapy is loaded here and nowhere else."""

    def __init__(self, wanted: OffersWanted, hearing: Hearing, clock: Clock) -> None:
        import scapy.arch  # noqa: F401, PLC0415 - chooses the socket classes of this system
        from scapy.config import conf  # noqa: PLC0415
        from scapy.layers.inet import IP, UDP  # noqa: PLC0415
        from scapy.layers.l2 import Ether  # noqa: PLC0415
        from scapy.sendrecv import AsyncSniffer  # noqa: PLC0415

        self._ether, self._ip, self._udp, self._sniffer = Ether, IP, UDP, AsyncSniffer
        conf.verb = 0
        self._conf, self._wanted, self._hearing, self._clock = conf, wanted, hearing, clock
        self._sent_s: float | None = None
        self._sent = 0

    def run(self) -> dict[str, Any]:
        """Listen first, send, listen on, and return the answer's form."""
        sock = self._conf.L2socket(iface=self._wanted.interface, promisc=False)
        try:
            hear_dhcp_alone(sock.ins)
            sniffer = self._sniffer(
                opened_socket=sock, store=False, lfilter=self._to_client, prn=self._hear
            )
            sniffer.start()
            self._await(lambda: sniffer.running, READY_WITHIN_S)
            begun_s = self._clock.monotonic_s()
            self._listen(sock)
            if sniffer.running:
                sniffer.stop()
            listened_s = self._clock.monotonic_s() - begun_s
        finally:
            sock.close()
        return {
            "sent": self._sent,
            "listened_s": listened_s,
            "offers": self._hearing.offers,
            "malformed": self._hearing.malformed,
        }

    def _listen(self, sock: Any) -> None:
        self._sent, self._sent_s = 1, self._clock.monotonic_s()
        sock.send(self._frame())
        ends_s = self._sent_s + self._wanted.listen_s
        self._await(lambda: bool(self._hearing.offers), AGAIN_AFTER_S)
        if not self._hearing.offers:
            sock.send(self._frame())
            self._sent += 1
        self._clock.sleep(ends_s - self._clock.monotonic_s())

    def _await(self, done: Any, within_s: float) -> None:
        ends_s = self._clock.monotonic_s() + within_s
        while not done() and self._clock.monotonic_s() < ends_s:
            self._clock.sleep(HEARD_TICK_S)

    def _frame(self) -> Any:
        wanted = self._wanted
        message = dhcp.discover(
            xid=self._hearing.xid, hardware_address=wanted.hardware_address, extra=wanted.options
        )
        return (
            self._ether(src=wanted.hardware_address.hex(":"), dst="ff:ff:ff:ff:ff:ff")
            / self._ip(src="0.0.0.0", dst="255.255.255.255")  # noqa: S104 - RFC 2131 §4.1
            / self._udp(sport=dhcp.CLIENT_PORT, dport=dhcp.SERVER_PORT)
            / dhcp.encode(message)
        )

    def _to_client(self, packet: Any) -> bool:
        """Tell whether a frame is a server's datagram; its checksum may be unfinished (offload)."""
        return (
            self._udp in packet
            and self._ether in packet
            and packet[self._udp].dport == dhcp.CLIENT_PORT
            and packet[self._udp].sport == dhcp.SERVER_PORT
        )

    def _hear(self, packet: Any) -> None:
        now_s = self._clock.monotonic_s()
        if self._sent_s is not None:
            after_ms = (now_s - self._sent_s) * 1000
            sender = str(packet[self._ether].src)
            self._hearing.hear(bytes(packet[self._udp].payload), sender, after_ms)
