"""Who has which address on the practice network; all from ranges set aside for such use.

Documentation ranges RFC 5737, RFC 3849 and RFC 7042 §2.1.2, benchmarking range RFC 2544 and
RFC 6890, shared range RFC 6598.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

LAN_BITS = 24
WAN_BITS = 24
WAN_POOL = 5
"""How many addresses the operator has ready for a laptop at the modem; judgement."""

POINT_BITS = 30
LINK_BITS_6 = 64
HOME_LINK = 0x101
"""In a /56 that holds nothing of the operator's, as a home is given one (RFC 6177 §2)."""

SITE_NAMES = ("harbour", "lighthouse", "chandlery")
IPV4_ONLY_SITES = ("chandlery",)
"""Sites that have no IPv6 address of their own."""


ACTIVATION_NAME = "activation.ternbay.example"

LONG_NAME = "long.ternbay.example"
"""A name of the operator's with an answer of more than 512 octets, and fewer than 1232."""

LONG_TEXTS = tuple(f"tide table {number} " + "of the bay high and low " * 8 for number in range(4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A web site on the outside host: its name, address and the text that its page holds."""

    name: str
    address: str
    marker: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Addresses:
    """Every address of one practice network, IPv4 texts; `core` is one pair per core hop.

    `laptop` is what the built-in DHCP server grants; another one draws from the pool.
    `between_routers` are the ends of the link between two routers of the home, where there are two:
    that of the one at the modem, then that of the one at the laptop. `router` is who gives the
    laptop its address out of `lan`: the edge, out of its own network, where no router is between.

    A pair is (towards the home, towards the server) as seen from the link in front of a hop:
    the far end of the former hop, then the hop itself.
    """

    laptop: str
    laptop_hardware: str
    router: str
    pool_first: str
    pool_last: str
    lan: str
    wan: str
    edge: str
    wan_prefix: str
    modem: str
    modem_neighbour: str
    core: tuple[tuple[str, str], ...]
    server_gateway: str
    server: str
    outside_gateway: str
    outside: str
    resolver: str
    server_name: str
    sites: tuple[Site, ...]
    between_routers: tuple[str, str] = ("", "")
    leased_resolvers: tuple[str, ...] = ()

    @property
    def resolvers(self) -> tuple[str, ...]:
        """Return the resolvers that the home router hands out; the operator's own by default."""
        return self.leased_resolvers or (self.resolver,)

    @property
    def names(self) -> dict[str, str]:
        """Return what the operator's resolver knows: name to address."""
        return {self.server_name: self.server} | {site.name: site.address for site in self.sites}

    @property
    def known_names(self) -> dict[str, str]:
        """Return the same with the host where the operator activates lines, which is the edge."""
        return self.names | {ACTIVATION_NAME: self.edge}

    @property
    def operator_prefixes(self) -> tuple[str, ...]:
        """Return the prefixes that the operator gives to customers."""
        return (self.wan_prefix,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Addresses6:
    """The IPv6 addresses of one practice network; `core` as in `Addresses`.

    The laptop makes its own from the router's advertisement of `lan`.
    """

    lan: str
    router: str
    wan: str
    edge: str
    core: tuple[tuple[str, str], ...]
    server_gateway: str
    server: str
    outside_gateway: str
    outside: str
    prefix: str
    resolver: str = ""
    sites: tuple[str, ...] = ()
    translator_gateway: str = ""
    translator: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TranslatorAddresses:
    """The IPv4 side of the operator's translator: its link to the edge, and what it gives out."""

    gateway: str = "203.0.113.9"
    own: str = "203.0.113.10"
    pool: tuple[str, ...] = ("203.0.113.12", "203.0.113.13", "203.0.113.14", "203.0.113.15")
    pool_prefix: str = "203.0.113.12/30"


def plan_addresses_6(seed: int, hops: int) -> Addresses6:
    """Return the IPv6 addresses of a network, all from 2001:db8::/32 (RFC 3849)."""
    place = random.Random(f"addresses 6 {seed}").randrange(1, 65_536)
    whole = f"2001:db8:{place:x}"

    def link(number: int, host: int) -> str:
        return f"{whole}:{number:x}::{host:x}"

    return Addresses6(
        lan=f"{whole}:{HOME_LINK:x}::/{LINK_BITS_6}",
        router=link(HOME_LINK, 1),
        wan=link(2, 2),
        edge=link(2, 1),
        core=tuple((link(16 + hop, 1), link(16 + hop, 2)) for hop in range(hops)),
        server_gateway=link(0xF0, 1),
        server=link(0xF0, 2),
        outside_gateway=link(0xF1, 1),
        outside=link(0xF1, 2),
        prefix=f"{whole}::/48",
        resolver=link(0xF1, 0x53),
        sites=tuple(link(0xF1, 0x80 + number) for number in range(len(SITE_NAMES))),
        translator_gateway=link(0xF2, 1),
        translator=link(0xF2, 2),
    )


def plan_addresses(seed: int, hops: int, *, routers: int = 1) -> Addresses:
    """Return the addresses of a network; the same seed gives the same ones.

    Without `routers` in the home the laptop has one of those that the home would have.
    """
    plan = _behind_router(seed, hops)
    if routers:
        return plan
    prefix, _, last = plan.wan.rpartition(".")
    return replace(
        plan,
        laptop=plan.wan,
        router=plan.edge,
        pool_first=plan.wan,
        pool_last=f"{prefix}.{int(last) + WAN_POOL - 1}",
        lan=plan.wan_prefix,
    )


def _behind_router(seed: int, hops: int) -> Addresses:
    draw = random.Random(f"addresses {seed}")
    lan = f"198.18.{draw.randrange(256)}"
    place = draw.randrange(256)
    modem, between = f"198.19.{place}", f"198.19.{(place + 1) % 256}"
    link = draw.randrange(64, 127), draw.randrange(256)
    host = draw.randrange(10, 200)
    return Addresses(
        laptop=f"{lan}.{host + 20}",
        laptop_hardware=f"02:00:5e:00:53:{draw.randrange(256):02x}",
        router=f"{lan}.1",
        pool_first=f"{lan}.{host}",
        pool_last=f"{lan}.{host + 40}",
        lan=f"{lan}.0/{LAN_BITS}",
        wan=f"203.0.113.{draw.randrange(20, 250)}",
        edge="203.0.113.1",
        wan_prefix=f"203.0.113.0/{WAN_BITS}",
        modem=f"{modem}.1",
        modem_neighbour=f"{modem}.2",
        core=tuple(_pair(f"100.{link[0]}.{link[1]}", hop) for hop in range(hops)),
        server_gateway="198.51.100.1",
        server=f"198.51.100.{2 + draw.randrange(5) * 4}",
        outside_gateway="192.0.2.1",
        outside="192.0.2.2",
        resolver=f"198.51.100.{draw.randrange(129, 250)}",
        server_name="doorstep.ternbay.example",
        sites=_sites(draw),
        between_routers=(f"{between}.1", f"{between}.2"),
    )


def _pair(prefix: str, hop: int) -> tuple[str, str]:
    return f"{prefix}.{4 * hop + 1}", f"{prefix}.{4 * hop + 2}"


def _sites(draw: random.Random) -> tuple[Site, ...]:
    hosts = draw.sample(range(10, 250), len(SITE_NAMES))
    named = zip(SITE_NAMES, hosts, strict=True)
    return tuple(
        Site(
            name=f"{name}.example",
            address=f"192.0.2.{host}",
            marker=f"{name} page, edition {draw.randrange(10_000):04}",
        )
        for name, host in named
    )
