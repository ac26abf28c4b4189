"""From heard datagrams to offers and refusals: ours only, each once, bounded in count."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from agent.codec import dhcp
from agent.codec.dhcp import MessageType
from agent.codec.dhcp_options import Option, faulty_options
from agent.errors import MalformedMessage

MOST_OFFERS = 32
MOST_LISTED = 8
LONGEST_NOTE = 64
FROM_SERVERS = (MessageType.OFFER, MessageType.ACK, MessageType.NAK)


@dataclass(kw_only=True)
class Hearing:
    """Collects the OFFERs that answer one DISCOVER (xid and hardware address both ours).

    NAKs to this hardware address are kept too: those of the question under `presence_xid`, and
    those to the system's own client. Of what servers say to others only their address is kept.
    """

    xid: int
    hardware_address: bytes
    presence_xid: int | None = None
    offers: list[dict[str, Any]] = field(default_factory=list)
    naks: list[dict[str, Any]] = field(default_factory=list)
    overheard: list[str] = field(default_factory=list)
    malformed: int = 0

    def hear(self, payload: bytes, sender: str, after_ms: float) -> None:
        """Take the payload of one datagram to the client port, `sender` its hardware address."""
        try:
            message = dhcp.decode(payload)
        except MalformedMessage:
            self.malformed += 1
            return
        if message.op != dhcp.Op.REPLY or message.message_type not in FROM_SERVERS:
            return
        mine = message.hardware_address == self.hardware_address
        if mine and message.message_type == MessageType.OFFER and message.xid == self.xid:
            keep(self.offers, offer_form(message, sender, after_ms), MOST_OFFERS)
        elif mine and message.message_type == MessageType.NAK:
            to_system = message.xid not in (self.xid, self.presence_xid)
            keep(self.naks, nak_form(message, sender, after_ms, to_system), MOST_LISTED)
        else:
            self._overhear(message.server_id)

    def _overhear(self, server: str | None) -> None:
        if server and server not in self.overheard and len(self.overheard) < MOST_LISTED:
            self.overheard.append(server)


def offer_form(message: dhcp.DhcpMessage, sender: str, after_ms: float) -> dict[str, Any]:
    """Return an offer as the fields of `measurements.Offer`."""
    return {
        "after_ms": after_ms,
        "server_id": message.server_id,
        "server_hardware_address": sender,
        "address": message.yiaddr,
        "lease_s": message.lease_s,
        "t1_s": message.t1_s,
        "t2_s": message.t2_s,
        "subnet_mask": message.subnet_mask,
        "routers": list(message.routers[:MOST_LISTED]),
        "dns": list(message.dns[:MOST_LISTED]),
        "routes": [
            {"network": route.network, "prefix": route.prefix, "router": route.router}
            for route in message.routes[:MOST_LISTED]
        ],
        "routes_given": message.option(Option.CLASSLESS_ROUTES) is not None,
        "relay": None if message.giaddr == dhcp.NO_ADDRESS else message.giaddr,
        "mtu_bytes": message.mtu_bytes,
        "captive_api": message.captive_api,
        "ipv6_only_s": message.ipv6_only_s,
        "faulty_options": [int(code) for code in faulty_options(message.options)],
    }


def nak_form(
    message: dhcp.DhcpMessage, sender: str, after_ms: float, to_system: bool
) -> dict[str, Any]:
    """Return a NAK as the fields of `measurements.Nak`."""
    return {
        "after_ms": after_ms,
        "server_id": message.server_id,
        "server_hardware_address": sender,
        "to_system": to_system,
        "message": (message.message_text or "")[:LONGEST_NOTE] or None,
    }


def keep(kept: list[dict[str, Any]], form: dict[str, Any], most: int) -> None:
    """Add a form unless it is full, or differs in time only: what was said again."""
    if len(kept) < most and all({**form, "after_ms": 0} != {**o, "after_ms": 0} for o in kept):
        kept.append(form)
