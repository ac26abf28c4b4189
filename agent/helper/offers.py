"""From heard datagrams to offers: ours only, each once, bounded in count."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from agent.codec import dhcp
from agent.errors import MalformedMessage

MOST_OFFERS = 32
MOST_LISTED = 8


@dataclass(kw_only=True)
class Hearing:
    """Collects the OFFERs that answer one DISCOVER (xid and hardware address both ours)."""

    xid: int
    hardware_address: bytes
    offers: list[dict[str, Any]] = field(default_factory=list)
    malformed: int = 0

    def hear(self, payload: bytes, sender: str, after_ms: float) -> None:
        """Take the payload of one datagram to the client port, `sender` its hardware address."""
        try:
            message = dhcp.decode(payload)
        except MalformedMessage:
            self.malformed += 1
            return
        if self._ours(message) and len(self.offers) < MOST_OFFERS:
            offer = offer_form(message, sender, after_ms)
            if all(not _same(offer, other) for other in self.offers):
                self.offers.append(offer)

    def _ours(self, message: dhcp.DhcpMessage) -> bool:
        return (
            message.op == dhcp.Op.REPLY
            and message.message_type == dhcp.MessageType.OFFER
            and message.xid == self.xid
            and message.hardware_address == self.hardware_address
        )


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
        "routers": message.routers[:MOST_LISTED],
        "dns": message.dns[:MOST_LISTED],
    }


def _same(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Tell whether two offers differ in time only: one server answering twice."""
    return {**one, "after_ms": 0} == {**other, "after_ms": 0}
