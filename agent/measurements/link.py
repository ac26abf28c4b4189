"""What the system says of the port and the medium under test."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Medium(StrEnum):
    """What carries the frames of an interface."""

    WIRED = "wired"
    WIRELESS = "wireless"
    MOBILE = "mobile"
    PPP = "ppp"
    TUNNEL = "tunnel"
    LOOPBACK = "loopback"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wireless:
    """Radio facts of a wireless interface: `phy_bps` bit/s, `signal_dbm` dBm."""

    phy_bps: int | None = None
    signal_dbm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkFacts:
    """One reading of an interface.

    `speed_bps` is the negotiated speed in bit/s, `duplex` "full" or "half", `mtu_bytes` the
    largest IP packet; errors are the system's counters since the port came up. `parent` is the
    port beneath a VLAN, PPP or bridge, `vlan_id` the tag (IEEE 802.1Q) that its frames carry;
    `bus_bps` the rate of a USB adapter's bus. `injected` names the facts that a practice network
    supplied because no kernel can play them.
    """

    interface: str
    up: bool
    medium: Medium
    hardware_address: str | None = None
    speed_bps: int | None = None
    duplex: str | None = None
    mtu_bytes: int | None = None
    receive_errors: int | None = None
    transmit_errors: int | None = None
    carrier_changes: int | None = None
    parent: str | None = None
    parent_kind: str | None = None
    vlan_id: int | None = None
    bus_bps: int | None = None
    wireless: Wireless | None = None
    virtual: bool = False
    injected: tuple[str, ...] = ()

    @property
    def errors(self) -> int | None:
        """Return the frames received or sent in error, None where nobody counts them."""
        counted = (self.receive_errors, self.transmit_errors)
        known = [count for count in counted if count is not None]
        return sum(known) if known else None
