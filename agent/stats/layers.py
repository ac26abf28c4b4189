"""Rates between the layers at which octets are counted, for full-size packets.

The names are the tier's: `payload` (TCP octets), `ip`, `frame` (Ethernet without check sequence),
`docsis-frame` (with it, as RFC 4323 counts a service flow), `wire` (with preamble and gap).
"""

from __future__ import annotations

from dataclasses import dataclass

ETHERNET_HEADER_BYTES = 14
CHECK_SEQUENCE_BYTES = 4
PREAMBLE_BYTES = 8
GAP_BYTES = 12
PPPOE_BYTES = 8
"""RFC 2516 §7: six octets of PPPoE and two of PPP inside the Ethernet payload."""

IPV4_TCP_BYTES = 40
IPV6_TCP_BYTES = 60
TIMESTAMP_BYTES = 12
"""RFC 7323 §3.2: ten octets of option, padded to twelve."""

USUAL_MTU_BYTES = 1500

LAYERS = ("payload", "ip", "frame", "docsis-frame", "wire")


@dataclass(frozen=True, slots=True, kw_only=True)
class Packet:
    """A full-size packet: its IP length, the IP and TCP octets in it, and what wraps it."""

    mtu_bytes: int = USUAL_MTU_BYTES
    header_bytes: int = IPV4_TCP_BYTES
    wrapping_bytes: int = 0

    def bytes_at(self, layer: str) -> int:
        """Return what this packet counts at a layer, in octets; KeyError for an unknown one."""
        frame = self.mtu_bytes + self.wrapping_bytes + ETHERNET_HEADER_BYTES
        counted = frame + CHECK_SEQUENCE_BYTES
        sizes = {
            "payload": self.mtu_bytes - self.header_bytes,
            "ip": self.mtu_bytes,
            "frame": frame,
            "docsis-frame": counted,
            "wire": counted + PREAMBLE_BYTES + GAP_BYTES,
        }
        return sizes[layer]


def convert(rate_bps: float, packet: Packet, source: str, target: str) -> float:
    """Return the rate at the layer `target` of a rate at the layer `source`."""
    return rate_bps * packet.bytes_at(target) / packet.bytes_at(source)


def payload_ceiling(speed_bps: float, packet: Packet) -> float:
    """Return the most TCP payload per second a port of a speed can carry (RFC 6349 §4.1.1)."""
    return convert(speed_bps, packet, "wire", "payload")
