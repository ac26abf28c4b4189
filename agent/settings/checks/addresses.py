"""Addresses: prefixes, the modem's address, and URLs."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable, Iterator
from urllib.parse import urlsplit

from agent.settings.checks.parts import Parts, Problem
from agent.settings.keys import Path

_EXPECTED = ("expected_pools", "expected_dhcp_servers")


def line(parts: Parts) -> Iterator[Problem]:
    """Yield prefixes and addresses of the line that cannot be read."""
    for key in ("operator_prefixes", "network_prefixes", *_EXPECTED):
        for value in getattr(parts.line, key):
            yield from _prefix(("line", key), value)
    modem = parts.line.modem_address
    if modem is not None and _refusal(ipaddress.ip_address, modem):
        allowed = 'an IP address such as "192.168.100.1"'
        yield Problem(path=("line", "modem_address"), found=f'"{modem}"', allowed=allowed)


def addresses(parts: Parts) -> Iterator[Problem]:
    """Yield URLs whose host or port cannot be read."""
    for page in parts.targets.web if parts.targets else ():
        yield from _url(("targets", "web", page.name, "url"), page.url)
    if parts.targets and parts.targets.captive_api:
        yield from _url(("targets", "captive_api"), parts.targets.captive_api)
    for key in ("card", "download", "upload"):
        url = getattr(parts.server, key)
        if url is not None:
            yield from _url(("server", key), url)


def _prefix(path: Path, value: str) -> Iterator[Problem]:
    if _refusal(ipaddress.ip_network, value) is None:
        return
    allowed = 'a prefix such as "192.0.2.0/24"'
    if _refusal(_loose, value) is None:
        allowed = f'a prefix without host bits: "{_loose(value)}"'
    yield Problem(path=path, found=f'"{value}"', allowed=allowed)


def _loose(value: str) -> object:
    return ipaddress.ip_network(value, strict=False)


def _url(path: Path, url: str) -> Iterator[Problem]:
    refusal = _refusal(_host_and_port, url)
    if refusal:
        yield Problem(path=path, found=f'"{url}" ({refusal})', allowed="scheme://host:port/path")


def _host_and_port(url: str) -> None:
    parts = urlsplit(url)
    if not parts.hostname:
        raise ValueError("no host")
    if parts.port == 0:
        raise ValueError("port 0")


def _refusal(read: Callable[[str], object], value: str) -> str | None:
    try:
        read(value)
    except ValueError as error:
        return str(error)
    return None
