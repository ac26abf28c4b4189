"""Whom the delay series go to, and how; pure."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from agent.measurements import PathStatistics, Role
from agent.probes.means import ICMP_ECHO, WEB_PORT
from agent.settings.model import PluggedInto, Server

DEFAULT_PORTS = {"http": 80, "https": 443, "ftp": 21}


@dataclass(frozen=True, slots=True, kw_only=True)
class EchoTarget:
    """One far end of a delay series: `method` is "stamp" or the means of echo tried first.

    `connect_port` is where a TCP connection would go, `key` that of a STAMP session in
    authenticated mode.
    """

    role: Role
    address: str
    method: str = ICMP_ECHO
    port: int = 0
    ssid: int = 0
    connect_port: int = WEB_PORT
    key: bytes | None = field(default=None, repr=False)

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


def first_hop(path: PathStatistics, gateway: str | None, plugged_into: PluggedInto) -> str | None:
    """Return the first router past the home's own equipment, None where it did not answer.

    Behind a router the gateway is the home's, and the next hop is the operator's unless its
    address is for private use (a second router of the home). Plugged into the modem or ONT the
    gateway itself is the first hop, and needs no series of its own.
    """
    if plugged_into in {PluggedInto.MODEM, PluggedInto.ONT}:
        return None
    for hop in path.hops:
        for address in hop.addresses:
            if address != gateway and not _of_a_home(address):
                return address
    return None


def _of_a_home(address: str) -> bool:
    private = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16")  # RFC 1918 §3
    parsed = ipaddress.ip_address(address)
    return any(parsed in ipaddress.ip_network(block) for block in private)
