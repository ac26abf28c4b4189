"""The lease the system holds, and the offers that a probe heard."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One OFFER (RFC 2131 §3.1) heard by the probe; `after_ms` from the DISCOVER sent."""

    after_ms: float
    server_id: str | None
    server_hardware_address: str | None
    address: str
    lease_s: int | None = None
    t1_s: int | None = None
    t2_s: int | None = None
    subnet_mask: str | None = None
    routers: tuple[str, ...] = ()
    dns: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaseProbe:
    """A DISCOVER that takes nothing: attempts sent and every offer heard in `listened_s`."""

    sent: int
    listened_s: float
    offers: tuple[Offer, ...] = ()
    malformed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaseFacts:
    """The address the system holds on the tested interface.

    `prefix` is the length; `obtained` and `expires` are RFC 3339 wall times as the system tells
    them; `left_s` the validity left when read. `origin` is "dhcp", "static", "self-assigned",
    "ppp", "kernel" (router advertisement), "none", or "unknown" where the system does not say.
    `sources` says for each fact who told it. `probe` is None where it was not made, and
    `probe_reason` then says why. `captive_api` is the captive portal API's URL (RFC 8910).

    `state` is the kernel's word for the address (RFC 4862 §2): "preferred", "deprecated",
    "tentative" or "duplicate"; or "expired" where the lease ended `expired_s` ago and the address
    is still held. `ways` are the gateways of the default routes in force over this interface, best
    first, "on-link" for one without a gateway. `leased_routers` and `leased_dns` are what the lease
    itself names. `beside` are other ports of this computer with an address in the same network.
    Of these None is not told.
    """

    family: int
    origin: str
    address: str | None = None
    prefix: int | None = None
    gateway: str | None = None
    dns: tuple[str, ...] = ()
    server_id: str | None = None
    lease_s: int | None = None
    t1_s: int | None = None
    t2_s: int | None = None
    obtained: str | None = None
    expires: str | None = None
    left_s: float | None = None
    sources: Mapping[str, str] = field(default_factory=dict)
    probe: LeaseProbe | None = None
    probe_reason: str | None = None
    captive_api: str | None = None
    state: str | None = None
    expired_s: float | None = None
    ways: tuple[str, ...] | None = None
    leased_routers: tuple[str, ...] | None = None
    leased_dns: tuple[str, ...] | None = None
    beside: tuple[str, ...] = ()
