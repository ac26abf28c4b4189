"""What routers and servers say of IPv6 on a link, and what the system made of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class AdvertisedPrefix:
    """A prefix of an advertisement (RFC 4861 §4.6.2); 4294967295 seconds never end."""

    network: str
    prefix: int
    on_link: bool
    autonomous: bool
    valid_s: int
    preferred_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AdvertisedRoute:
    """A further route of an advertisement (RFC 4191 §2.3)."""

    network: str
    prefix: int
    lifetime_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AdvertisedRouter:
    """One advertisement heard (RFC 4861 §4.2); `after_ms` from the solicitation sent.

    `router_lifetime_s` 0 says that it is no default router. `managed` and `other` are the flags
    that send devices to a DHCPv6 server. `preference` is "low", "medium" or "high". `translator` is
    the prefix of RFC 8781. `faulty_options` are the kinds whose values break their form.
    """

    after_ms: float
    address: str
    hardware_address: str
    router_lifetime_s: int
    managed: bool
    other: bool
    preference: str = "medium"
    prefixes: tuple[AdvertisedPrefix, ...] = ()
    routes: tuple[AdvertisedRoute, ...] = ()
    mtu_bytes: int | None = None
    dns: tuple[str, ...] = ()
    dns_lifetime_s: int | None = None
    domains: tuple[str, ...] = ()
    captive_api: str | None = None
    translator: str | None = None
    faulty_options: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferedNetwork:
    """An address (length 128) or a delegated prefix that a server offers, lifetimes in seconds."""

    network: str
    prefix: int
    preferred_s: int
    valid_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ServerAnswer:
    """One ADVERTISE or REPLY of a DHCPv6 server (RFC 8415); `after_ms` from the solicitation sent.

    `kind` is "advertise", or "reply" to the question for resolvers alone. `server_id` is the DUID
    in writing. T1 and T2 are those of the address, then of the delegation. Statuses are codes
    of RFC 8415 §21.13, None for success unsaid: of the message, the address, the delegation.
    """

    after_ms: float
    kind: str
    server_id: str
    address: str
    hardware_address: str
    preference: int = 0
    addresses: tuple[OfferedNetwork, ...] = ()
    t1_s: int | None = None
    t2_s: int | None = None
    delegated: tuple[OfferedNetwork, ...] = ()
    delegated_t1_s: int | None = None
    delegated_t2_s: int | None = None
    status: int | None = None
    address_status: int | None = None
    delegation_status: int | None = None
    dns: tuple[str, ...] = ()
    domains: tuple[str, ...] = ()
    captive_api: str | None = None
    refresh_s: int | None = None
    faulty_options: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AdvertisedProbe:
    """A solicitation of routers and of servers that takes nothing, and all heard in `listened_s`.

    Counted are the messages sent: solicitations of routers, SOLICITs (for an address and a
    delegated prefix), INFORMATION-REQUESTs. Without an IPv6 address of the link no server can be
    asked. `far` counts advertisements that were no neighbour's (RFC 4861 §6.1.2).
    """

    routers_asked: int
    servers_asked: int
    information_asked: int
    listened_s: float
    routers: tuple[AdvertisedRouter, ...] = ()
    servers: tuple[ServerAnswer, ...] = ()
    malformed: int = 0
    far: int = 0

    @property
    def captive_apis(self) -> tuple[str, ...]:
        """Return the URIs of the portal's API that are named, each once (RFC 8910 §2.2, §2.3)."""
        named = [one.captive_api for one in self.routers]
        named += [one.captive_api for one in self.servers]
        return tuple(dict.fromkeys(uri for uri in named if uri is not None))


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRouter:
    """A default router in force; `left_s` is None where it never ends or the system does not say.

    `hardware_address` is what the system knows of its neighbour, None where nothing.
    """

    address: str
    hardware_address: str | None = None
    left_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldPrefix:
    """The prefix of an address held, 128 of a server's; times left in seconds, None = no end."""

    network: str
    prefix: int
    valid_s: float | None = None
    preferred_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AdvertisedView:
    """What the system itself took of advertisements; no right is needed to read it.

    `received` says that the system's kernel heard an advertisement; `managed` and `other` are its
    flags then, None otherwise: a manager (NetworkManager, networkd) may do this in the kernel's
    place. `mtu_bytes` is the advertised one. `sources` says for each fact who told it.
    """

    received: bool | None = None
    managed: bool | None = None
    other: bool | None = None
    mtu_bytes: int | None = None
    routers: tuple[HeldRouter, ...] = ()
    prefixes: tuple[HeldPrefix, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class AdvertisedStatistics:
    """Of routers and servers: how many, what they say, what is wrong; lists in order heard.

    `routers` are the hardware addresses of those that are a way out. `delegated` are prefixes in
    writing. `probed` tells whether they were asked, or the system's own view is all there is.
    """

    probed: bool
    routers: tuple[str, ...] = ()
    managed: bool | None = None
    other: bool | None = None
    prefixes: tuple[str, ...] = ()
    delegated: tuple[str, ...] = ()
    dns: tuple[str, ...] = ()
    servers: tuple[str, ...] = ()
    captive_apis: tuple[str, ...] = ()
    mtu_bytes: int | None = None
    faults: tuple[str, ...] = ()
