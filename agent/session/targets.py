"""Whom the delay series go to, and how; pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from urllib.parse import urlsplit

from agent.diagnosis.segments import Surroundings, first_past_modem
from agent.measurements import Medium, PathStatistics, Role
from agent.probes.means import ICMP_ECHO, WEB_PORT
from agent.session.ground import Ground
from agent.settings.model import Line, PluggedInto, Server

DEFAULT_PORTS = {"http": 80, "https": 443, "ftp": 21}


@dataclass(frozen=True, slots=True, kw_only=True)
class EchoTarget:
    """One far end of a delay series: `method` is "stamp" or the means of echo tried first.

    `connect_port` is where a TCP connection would go, `key` that of a STAMP session in
    authenticated mode. `long` asks for the plan's long probes.
    """

    role: Role
    address: str
    method: str = ICMP_ECHO
    port: int = 0
    ssid: int = 0
    connect_port: int = WEB_PORT
    key: bytes | None = field(default=None, repr=False)
    long: bool = False

    @property
    def family(self) -> int:
        """Return 4 or 6."""
        return 6 if ":" in self.address else 4


def card_url(url: str) -> str:
    """Return the card's URL for what a user gave: a bare server URL gets the card's path."""
    parts = urlsplit(url)
    return url if parts.path.strip("/") else f"{url.rstrip('/')}/card"


def port_of_url(url: str) -> int:
    """Return the port a URL leads to, by its scheme where it names none."""
    parts = urlsplit(url)
    return parts.port or DEFAULT_PORTS.get(parts.scheme, WEB_PORT)


def host_of(url: str) -> str:
    """Return the host of a URL, without brackets; empty where there is none."""
    return urlsplit(url).hostname or ""


def server_host(server_url: str | None, server: Server) -> str | None:
    """Return the host of the operator's server, however it was configured."""
    url = server_link(server_url, server)
    return None if url is None else host_of(url)


def server_link(server_url: str | None, server: Server) -> str | None:
    """Return the first URL of the operator's server that is configured."""
    urls = (server_url, server.card, server.download, server.upload)
    return next((url for url in urls if url), None)


def surroundings(
    ground: Ground, plugged_into: PluggedInto, line: Line, *, server: str | None, seen: str | None
) -> Surroundings:
    """Return what is known of the way when the delay series are aimed.

    `server` is the address of the operator's server, `seen` ours as it sees it.
    """
    port = ground.interface
    gateways = (ground.gateway, port.gateway(4), port.gateway(6))
    return Surroundings(
        plugged_into=plugged_into,
        dialled=port.link.medium is Medium.PPP,
        own=frozenset(held.address for held in port.addresses),
        gateways=frozenset(g for g in gateways if g),
        modem=line.modem_address,
        servers=frozenset({server} if server else ()),
        seen=seen,
        customers=line.operator_prefixes,
        network=line.network_prefixes,
    )


def first_hop(path: PathStatistics, around: Surroundings) -> str | None:
    """Return the first router past the modem, None where none answered that has no series yet."""
    return first_past_modem([hop.addresses for hop in path.hops], around)
