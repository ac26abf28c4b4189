"""From heard packets to routers and servers: ours only, each once, bounded in count."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from agent.codec import dhcp6, ipv6
from agent.codec import router_advertisement as ra
from agent.codec.dhcp6 import Association, Dhcp6Message, Lent, MessageType
from agent.codec.ipv6 import Packet
from agent.errors import MalformedMessage
from agent.helper.offers import keep

MOST_ROUTERS = 16
MOST_ANSWERS = 32
MOST_LISTED = 8
PREFERENCES = {ra.Preference.LOW: "low", ra.Preference.HIGH: "high"}
ANSWERS = {MessageType.ADVERTISE: "advertise", MessageType.REPLY: "reply"}


@dataclass(kw_only=True)
class AdvertisedHearing:
    """Collects advertisements of neighbours, and the servers' answers to our own questions.

    `solicit` and `information` are the transactions of the two questions, `own` our hardware
    address. An answer must name us and its server (RFC 8415 §16.3, §16.10).
    """

    client_id: bytes
    own: bytes
    solicit: int
    information: int
    routers: list[dict[str, Any]] = field(default_factory=list)
    servers: list[dict[str, Any]] = field(default_factory=list)
    malformed: int = 0
    far: int = 0

    def heard(self, kind: str) -> bool:
        """Tell whether a server gave an answer of a kind."""
        return any(one["kind"] == kind for one in self.servers)

    def hear(self, body: bytes, sender: bytes, after_ms: float) -> None:
        """Take the body of one IPv6 frame."""
        if sender == self.own:
            return
        try:
            packet = ipv6.decode(body)
            if _advertises(packet):
                self._router(packet, sender, after_ms)
            elif packet.next_header == ipv6.UDP:
                self._server(packet, sender, after_ms)
        except MalformedMessage:
            self.malformed += 1

    def _router(self, packet: Packet, sender: bytes, after_ms: float) -> None:
        if not ra.from_neighbour(packet):
            self.far += 1
            return
        form = router_form(ra.decode(packet.payload), packet.source, sender, after_ms)
        keep(self.routers, form, MOST_ROUTERS)

    def _server(self, packet: Packet, sender: bytes, after_ms: float) -> None:
        datagram = ipv6.decode_datagram(packet.payload)
        if datagram.destination_port != dhcp6.CLIENT_PORT:
            return
        message = dhcp6.decode(datagram.data)
        if self._ours(message):
            keep(
                self.servers,
                server_form(message, packet.source, sender, after_ms),
                MOST_ANSWERS,
            )

    def _ours(self, message: Dhcp6Message) -> bool:
        asked = {MessageType.ADVERTISE: self.solicit, MessageType.REPLY: self.information}
        named = message.client_id == self.client_id and message.server_id is not None
        return named and (message.kind, message.transaction) in asked.items()


def router_form(
    said: ra.RouterAdvertisement, source: str, sender: bytes, after_ms: float
) -> dict[str, Any]:
    """Return an advertisement as the fields of `measurements.AdvertisedRouter`."""
    return {
        "after_ms": after_ms,
        "address": source,
        "hardware_address": sender.hex(":"),
        "router_lifetime_s": said.router_lifetime_s,
        "managed": said.managed,
        "other": said.other,
        "preference": PREFERENCES.get(ra.Preference(said.preference), "medium"),
        "prefixes": [
            {
                "network": one.network,
                "prefix": one.prefix,
                "on_link": one.on_link,
                "autonomous": one.autonomous,
                "valid_s": one.valid_s,
                "preferred_s": one.preferred_s,
            }
            for one in said.prefixes[:MOST_LISTED]
        ],
        "routes": [
            {"network": one.network, "prefix": one.prefix, "lifetime_s": one.lifetime_s}
            for one in said.routes[:MOST_LISTED]
        ],
        "mtu_bytes": said.mtu_bytes,
        "dns": list(said.dns[:MOST_LISTED]),
        "dns_lifetime_s": said.dns_lifetime_s,
        "domains": list(said.domains[:MOST_LISTED]),
        "captive_api": said.captive_api,
        "translator": said.translator,
        "faulty_options": list(said.faulty_options[:MOST_LISTED]),
    }


def server_form(
    message: Dhcp6Message, source: str, sender: bytes, after_ms: float
) -> dict[str, Any]:
    """Return an answer as the fields of `measurements.ServerAnswer`."""
    given, delegated = message.addresses, message.delegations
    return {
        "after_ms": after_ms,
        "kind": ANSWERS[MessageType(message.kind)],
        "server_id": dhcp6.duid_text(message.server_id or bytes(2)),
        "address": source,
        "hardware_address": sender.hex(":"),
        "preference": message.preference,
        "addresses": _lent_forms(given),
        "t1_s": given[0].t1_s if given else None,
        "t2_s": given[0].t2_s if given else None,
        "delegated": _lent_forms(delegated),
        "delegated_t1_s": delegated[0].t1_s if delegated else None,
        "delegated_t2_s": delegated[0].t2_s if delegated else None,
        "status": message.status,
        "address_status": _status(given),
        "delegation_status": _status(delegated),
        "dns": list(message.dns[:MOST_LISTED]),
        "domains": list(message.domains[:MOST_LISTED]),
        "captive_api": message.captive_api,
        "refresh_s": message.refresh_s,
        "faulty_options": list(message.faulty_options[:MOST_LISTED]),
    }


def _lent_forms(found: tuple[Association, ...]) -> list[dict[str, Any]]:
    lent = [one for association in found for one in association.lent if not one.status]
    return [_lent_form(one) for one in lent[:MOST_LISTED]]


def _lent_form(one: Lent) -> dict[str, Any]:
    return {
        "network": one.network,
        "prefix": one.prefix,
        "preferred_s": one.preferred_s,
        "valid_s": one.valid_s,
    }


def _status(found: tuple[Association, ...]) -> int | None:
    """Return the first status of associations, or of what they lend."""
    said = (s for one in found for s in (one.status, *(lent.status for lent in one.lent)))
    return next((status for status in said if status is not None), None)


def _advertises(packet: Packet) -> bool:
    return packet.next_header == ipv6.ICMPV6 and packet.payload[:1] == bytes((ra.ADVERTISE,))
