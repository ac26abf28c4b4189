"""Offers through scapy: the only place that touches it, and its `conf`."""

from __future__ import annotations

import secrets
from typing import Any

from agent.clock import Clock
from agent.codec import arp, dhcp
from agent.helper.offers import Hearing
from agent.helper.port import RawPort, own_addresses, refuse_other
from agent.helper.request import OffersWanted
from agent.helper.sieve import hear_dhcp_alone
from agent.helper.uses import UseProbing

AGAIN_AFTER_S = 2.5
"""When a DISCOVER that nobody answered is sent once more: one frame may be lost anywhere. Sooner
than RFC 2131 §4.1 prescribes for clients (4 s), so that a slow server is still heard in 6 s."""

PRESENCE_AFTER_S = 4.5
"""When, still without an offer, it is asked whether a server is there at all."""

LATE_S = 3.0
"""How much longer than asked is listened, at most, for the users of an address offered late."""

READY_WITHIN_S = 3.0
HEARD_TICK_S = 0.1


def discover(wanted: OffersWanted, clock: Clock) -> dict[str, Any]:
    """Send DISCOVER, take no offer, and return every OFFER heard in `listen_s`.

    Of each offered address, and of those held, is asked whether another station uses it. Raises
    Refusal where the hardware address is not the port's own, OSError for the port.
    """
    refuse_other(wanted.interface, wanted.hardware_address)
    hearing = Hearing(xid=secrets.randbits(32), hardware_address=wanted.hardware_address)
    return _Exchange(wanted, hearing, clock).run()


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
        self._uses = UseProbing(own=own_addresses() | {wanted.hardware_address})
        self._begun_s: float | None = None
        self._sent = 0

    def run(self) -> dict[str, Any]:
        """Listen first, send, listen on, and return the answer's form."""
        with RawPort(self._wanted.interface, arp.ETHERTYPE) as stations:
            listened_s = self._heard(stations)
        return {
            "sent": self._sent,
            "listened_s": listened_s,
            "malformed": self._hearing.malformed + self._uses.malformed,
            "offers": self._hearing.offers,
            "presence_asked": self._hearing.presence_xid is not None,
            "naks": self._hearing.naks,
            "overheard": self._hearing.overheard,
            "probed": [one for one, count in self._uses.sent.items() if count],
            "in_use": self._uses.in_use,
        }

    def _heard(self, stations: RawPort) -> float:
        sock = self._conf.L2socket(iface=self._wanted.interface, promisc=False)
        try:
            hear_dhcp_alone(sock.ins)
            sniffer = self._sniffer(
                opened_socket=sock, store=False, lfilter=self._to_client, prn=self._hear
            )
            sniffer.start()
            self._await(lambda: sniffer.running, READY_WITHIN_S)
            listened_s = self._listen(sock, stations)
            if sniffer.running:
                sniffer.stop()
        finally:
            sock.close()
        return listened_s

    def _listen(self, sock: Any, stations: RawPort) -> float:
        """Send what is due and hear who uses which address, up to the end; return how long."""
        self._begun_s = begun_s = self._clock.monotonic_s()
        for address in self._wanted.held:
            self._uses.ask(address, begun_s, held=True)
        while (now_s := self._clock.monotonic_s()) < self._ends_s(begun_s):
            self._send_due(sock, now_s - begun_s)
            for offer in list(self._hearing.offers):
                self._uses.ask(offer["address"], now_s)
            for address in self._uses.due(now_s):
                question = arp.probe(self._wanted.hardware_address, address)
                stations.send(self._wanted.hardware_address, arp.encode(question))
            heard = stations.receive(HEARD_TICK_S)
            if heard is not None:
                self._uses.hear(heard[1], (self._clock.monotonic_s() - begun_s) * 1000)
        return self._clock.monotonic_s() - begun_s

    def _ends_s(self, begun_s: float) -> float:
        ends_s = begun_s + self._wanted.listen_s
        return min(max(ends_s, self._uses.ends_s()), ends_s + LATE_S)

    def _send_due(self, sock: Any, after_s: float) -> None:
        """Send the first DISCOVER; while nobody offers, another, then whether a server is there."""
        offered = bool(self._hearing.offers)
        if not self._sent or (self._sent == 1 and after_s >= AGAIN_AFTER_S and not offered):
            sock.send(self._frame(self._discover()))
            self._sent += 1
        elif after_s >= PRESENCE_AFTER_S and not offered and self._may_ask_presence():
            self._hearing.presence_xid = secrets.randbits(32)
            asked = dhcp.presence(
                xid=self._hearing.presence_xid, hardware_address=self._wanted.hardware_address
            )
            sock.send(self._frame(asked))

    def _may_ask_presence(self) -> bool:
        return self._wanted.presence and self._hearing.presence_xid is None

    def _await(self, done: Any, within_s: float) -> None:
        ends_s = self._clock.monotonic_s() + within_s
        while not done() and self._clock.monotonic_s() < ends_s:
            self._clock.sleep(HEARD_TICK_S)

    def _discover(self) -> dhcp.DhcpMessage:
        return dhcp.discover(
            xid=self._hearing.xid,
            hardware_address=self._wanted.hardware_address,
            extra=self._wanted.options,
            parameters=dhcp.PROBE_PARAMETERS,
        )

    def _frame(self, message: dhcp.DhcpMessage) -> Any:
        return (
            self._ether(src=self._wanted.hardware_address.hex(":"), dst="ff:ff:ff:ff:ff:ff")
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
        if self._begun_s is not None:
            after_ms = (now_s - self._begun_s) * 1000
            sender = str(packet[self._ether].src)
            self._hearing.hear(bytes(packet[self._udp].payload), sender, after_ms)
