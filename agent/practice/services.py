"""The servers of the practice network: real ones where installed, else small built-in ones."""

from __future__ import annotations

import shutil
import socket
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from agent.practice.addresses import (
    LONG_NAME,
    LONG_TEXTS,
    Addresses,
    Addresses6,
    TranslatorAddresses,
)
from agent.practice.simple import serve_dhcp, serve_names
from agent.practice.translator import run_translator

LEASE_S = 3600
DNS_PORT = 53
WEB_PORT = 80
PATIENCE_S = 1.0

NAT_RULES = """
table ip practice {
  chain out {
    type nat hook postrouting priority srcnat; policy accept;
    oifname "wan" masquerade
  }
}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """A server to start on a host: a command line, or a function that never returns.

    `listens` is the TCP address on which it answers once it is ready.
    """

    name: str
    host: str
    run: Sequence[str] | Callable[[], None]
    listens: tuple[str, int] | None = None


def find(program: str) -> str | None:
    """Return the path of an installed program; system folders may be missing from PATH."""
    return shutil.which(program) or shutil.which(program, path="/usr/sbin:/sbin:/usr/local/sbin")


def dhcp_service(
    addresses: Addresses,
    scratch: Path,
    dnsmasq: str | None,
    *,
    at: tuple[str, str] = ("router", "lan"),
) -> Service:
    """Return the DHCP server at a host and port; it hands out the operator's resolver."""
    host, port = at
    if dnsmasq is None:
        return Service(name="dhcp", host=host, run=lambda: serve_dhcp(port, addresses, LEASE_S))
    resolvers = ",".join(addresses.resolvers)
    argv = dhcp_command(
        scratch,
        dnsmasq,
        name="dhcp",
        port=port,
        pool=(addresses.pool_first, addresses.pool_last, LEASE_S),
        options=(
            f"option:router,{addresses.router}",
            f"option:dns-server,{resolvers}",
        ),
    )
    return Service(name="dhcp", host=host, run=argv)


def dhcp_command(
    scratch: Path,
    dnsmasq: str,
    *,
    name: str,
    port: str,
    pool: tuple[str, str, int],
    options: Sequence[str],
) -> tuple[str, ...]:
    """Return the command of a DHCP server on a port: first and last address, lease in seconds.

    `options` are written as dnsmasq(8) writes them; `name` names its files.
    """
    return (
        *_quiet(dnsmasq),
        "--port=0",
        f"--interface={port}",
        "--bind-interfaces",
        "--dhcp-authoritative",
        "--dhcp-rapid-commit",
        "--no-ping",
        "--dhcp-range={},{},{}".format(*pool),
        *(f"--dhcp-option={option}" for option in options),
        f"--dhcp-leasefile={scratch}/{name}.leases",
        f"--pid-file={scratch}/{name}.pid",
    )


def advertising_service(
    scratch: Path, dnsmasq: str, *, resolver: str | None = None, router_lifetime_s: int = 1800
) -> Service:
    """Return the home router's IPv6 advertisements (RFC 4861): addresses are the laptop's to make.

    A solicitation is answered at once, so that no time is lost at the start. `resolver` is named
    in them (RFC 8106). Without a lifetime the router is no way out (RFC 4861 §4.2).
    """
    named = (f"--dhcp-option=option6:dns-server,[{resolver}]",) if resolver else ()
    argv = (
        *_quiet(dnsmasq),
        "--port=0",
        "--interface=lan",
        "--enable-ra",
        "--dhcp-range=::,constructor:lan,ra-only,64",
        f"--ra-param=lan,600,{router_lifetime_s}",
        *named,
        f"--dhcp-leasefile={scratch}/advertised.leases",
        f"--pid-file={scratch}/advertised.pid",
    )
    return Service(name="advertiser", host="router", run=argv)


def translating_service(port: str) -> Service:
    """Return the operator's translator from IPv6 to IPv4."""
    run = partial(run_translator, port, TranslatorAddresses().pool)
    return Service(name="translator", host="translator", run=run)


def resolver_service(
    addresses: Addresses,
    scratch: Path,
    dnsmasq: str | None,
    *,
    addresses_6: Addresses6 | None = None,
    names: Mapping[str, tuple[str, ...]] | None = None,
) -> Service:
    """Return the operator's resolver: the configured names, NXDOMAIN for the rest.

    With `addresses_6` it is reached over IPv6 too; `names` are the IPv6 addresses that it knows.
    """
    listens = (addresses.resolver, DNS_PORT)
    if dnsmasq is None:
        run = partial(serve_names, addresses.resolver, DNS_PORT, addresses.known_names)
        return Service(name="resolver", host="outside", run=run, listens=listens)
    records = [f"--host-record={name},{address}" for name, address in addresses.known_names.items()]
    records += [f"--host-record={name},{a}" for name, known in (names or {}).items() for a in known]
    records.append(",".join((f"--txt-record={LONG_NAME}", *LONG_TEXTS)))
    listening_6 = (f"--listen-address={addresses_6.resolver}",) if addresses_6 else ()
    argv = (
        *_quiet(dnsmasq),
        "--no-resolv",
        "--no-hosts",
        "--local=/#/",
        f"--listen-address={addresses.resolver}",
        *listening_6,
        "--bind-interfaces",
        f"--pid-file={scratch}/resolver.pid",
        *records,
    )
    return Service(name="resolver", host="outside", run=argv, listens=listens)


def _quiet(dnsmasq: str) -> tuple[str, ...]:
    # --no-daemon keeps dnsmasq from changing its user, which an unprivileged namespace refuses.
    return (dnsmasq, "--no-daemon", "--conf-file=/dev/null", "--log-facility=/dev/null")


def listening(address: str, port: int) -> bool:
    """Return whether a TCP server accepts on an address of this network."""
    with socket.socket(_family(address), socket.SOCK_STREAM) as probe:
        probe.settimeout(PATIENCE_S)
        return probe.connect_ex((address, port)) == 0


def _family(address: str) -> socket.AddressFamily:
    return socket.AF_INET6 if ":" in address else socket.AF_INET


def mute(address: str, port: int) -> tuple[socket.socket, ...]:
    """Return sockets that take what comes to a port and never answer."""
    held = []
    for kind in (socket.SOCK_DGRAM, socket.SOCK_STREAM):
        silent = socket.socket(_family(address), kind)
        silent.bind((address, port))
        held.append(silent)
    held[1].listen(64)
    return tuple(held)
