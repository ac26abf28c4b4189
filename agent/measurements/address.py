"""The lease the system holds, and the offers that a probe heard."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from agent.measurements.advertised import AdvertisedProbe, AdvertisedView


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferedRoute:
    """One classless route of an offer; `router` 0.0.0.0 says on-link (RFC 3442)."""

    network: str
    prefix: int
    router: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One OFFER (RFC 2131 §3.1) heard by the probe; `after_ms` from the DISCOVER sent.

    `routers` are those in force: of the classless routes where `routes_given`, else of option 3
    (RFC 3442). `relay` is giaddr. `captive_api` is the URI of option 114 (RFC 8910), `ipv6_only_s`
    the wait of option 108 as it is to be taken (RFC 8925 §3.4). `faulty_options` are the codes
    whose values break the form of their standard.
    """

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
    routes: tuple[OfferedRoute, ...] = ()
    routes_given: bool = False
    relay: str | None = None
    mtu_bytes: int | None = None
    captive_api: str | None = None
    ipv6_only_s: int | None = None
    faulty_options: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Nak:
    """One NAK (RFC 2131 §3.1) heard by the probe; `after_ms` from the DISCOVER sent.

    It answers the probe's own question whether a server is there, or with `to_system` what the
    laptop's system asked for meanwhile.
    """

    after_ms: float
    server_id: str | None
    server_hardware_address: str | None
    to_system: bool
    message: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AddressUse:
    """An address that another station says it has (RFC 5227 §2.1.1); `held` is the laptop's own.

    `after_ms` counts from the DISCOVER sent.
    """

    address: str
    hardware_address: str
    after_ms: float
    held: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaseProbe:
    """A DISCOVER that takes nothing: attempts sent and every offer heard in `listened_s`.

    `presence_asked` tells that nobody offered, so that a REQUEST for an address that no server can
    grant was sent to learn whether a server is there. `overheard` names servers that spoke to
    other clients. `probed` are the addresses of which was asked whether another station uses them.
    """

    sent: int
    listened_s: float
    offers: tuple[Offer, ...] = ()
    malformed: int = 0
    presence_asked: bool = False
    naks: tuple[Nak, ...] = ()
    overheard: tuple[str, ...] = ()
    probed: tuple[str, ...] = ()
    in_use: tuple[AddressUse, ...] = ()

    @property
    def captive_api(self) -> str | None:
        """The portal's API that an offer names first (RFC 8910 §2.1), None without one."""
        return next((o.captive_api for o in self.offers if o.captive_api is not None), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Concentrator:
    """One PADO (RFC 2516 §5.2) heard; `after_ms` from the first PADI sent.

    `cookie_bytes` is the length of its AC-Cookie, `error` the text of an error tag.
    """

    after_ms: float
    hardware_address: str
    name: str
    services: tuple[str, ...] = ()
    cookie_bytes: int | None = None
    error: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PppoeProbe:
    """A PADI that takes no session: attempts sent and every PADO heard in `listened_s`."""

    sent: int
    listened_s: float
    concentrators: tuple[Concentrator, ...] = ()
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

    `advertised` is what routers and DHCPv6 servers said when asked, or `advertised_reason` why they
    were not; `advertised_view` what the system took of advertisements by itself. They stand in the
    first IPv6 entry, in the first of all where no IPv6 address is held.
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
    pppoe: PppoeProbe | None = None
    captive_api: str | None = None
    state: str | None = None
    expired_s: float | None = None
    ways: tuple[str, ...] | None = None
    leased_routers: tuple[str, ...] | None = None
    leased_dns: tuple[str, ...] | None = None
    beside: tuple[str, ...] = ()
    advertised: AdvertisedProbe | None = None
    advertised_reason: str | None = None
    advertised_view: AdvertisedView | None = None
