"""Which engines serve on which operating system: probe sockets and the facts.

Linux was tried; what stands here for macOS and Windows never ran on the real system, and their
facts say so. There the walk is made of echo, since no plain user is told who refused a datagram:
its checksum differs from probe to probe, so that routers may send each over another way.
"""

from __future__ import annotations

import socket
from collections.abc import Callable, Mapping

from agent.errors import MeansNotWritten, SystemNotSupported
from agent.ports.binding import Binding
from agent.ports.datagram import ProbeSocket
from agent.ports.facts import FactsPort

LINUX, MACOS, WINDOWS = "linux", "darwin", "win32"
"""As `sys.platform` calls them."""

NAMES = {MACOS: "macOS", WINDOWS: "Windows"}
BY_ECHO = ("udp-path",)
BY_PLAIN_UDP = ("stamp", "udp-unreachable")
ICMP = "icmp-echo"

EchoOpener = Callable[[Binding, str], ProbeSocket]
PlainOpener = Callable[[Binding, str, int], ProbeSocket]


def facts_of(platform: str) -> FactsPort:
    """Return the facts of this computer; raises SystemNotSupported."""
    facts = _FACTS.get(platform)
    if facts is None:
        raise SystemNotSupported(system=platform)
    return facts()


def open_probe_socket(
    platform: str,
    method: str,
    binding: Binding,
    address: str,
    port: int = 0,
    *,
    raw: socket.socket | None = None,
) -> ProbeSocket:
    """Return a socket for a method; raises CannotMeasure.

    `raw` is a raw ICMP socket for echo, which only Linux needs; see `Rights`.
    """
    if platform == LINUX:
        return _on_linux(method, binding, address, port, raw)
    if platform not in NAMES:
        raise MeansNotWritten(means=method, system=platform)
    if method == ICMP or method in BY_ECHO:
        return _ECHO[platform](binding, address)
    if method in BY_PLAIN_UDP:
        return _PLAIN[platform](binding, address, port)
    raise MeansNotWritten(means=method, system=NAMES[platform])


def _on_linux(
    method: str, binding: Binding, address: str, port: int, raw: socket.socket | None
) -> ProbeSocket:
    from agent.engines import linux_datagram as linux  # noqa: PLC0415 - Linux only

    if method == ICMP:
        return linux.open_echo_socket(binding, address, raw)
    return linux.OPENERS[method](binding, address, port)


def _linux_facts() -> FactsPort:
    from agent.engines.linux_facts import LinuxFacts  # noqa: PLC0415 - Linux only

    return LinuxFacts()


def _mac_facts() -> FactsPort:
    from agent.engines.macos_told import MacTold  # noqa: PLC0415 - macOS only
    from agent.engines.macos_way import MacWays  # noqa: PLC0415 - as above
    from agent.engines.portable_facts import PortableFacts  # noqa: PLC0415 - as above
    from agent.engines.portable_links import mac_medium  # noqa: PLC0415 - as above

    return PortableFacts(NAMES[MACOS], MacWays(), MacTold(), medium=mac_medium)


def _windows_facts() -> FactsPort:
    from agent.engines.portable_facts import PortableFacts  # noqa: PLC0415 - Windows only
    from agent.engines.windows_calls import IpHelper  # noqa: PLC0415 - as above
    from agent.engines.windows_registry import (  # noqa: PLC0415 - as above
        SystemRegistry,
        WindowsTold,
        WindowsWays,
    )

    registry = SystemRegistry()
    ways, told = WindowsWays(IpHelper(), registry), WindowsTold(registry)
    return PortableFacts(NAMES[WINDOWS], ways, told, duplex_told=False)


def _mac_echo(binding: Binding, address: str) -> ProbeSocket:
    from agent.engines import macos_echo  # noqa: PLC0415 - macOS only

    return macos_echo.open_echo_socket(binding, address)


def _windows_echo(binding: Binding, address: str) -> ProbeSocket:
    from agent.engines.windows_calls import IpHelper  # noqa: PLC0415 - Windows only
    from agent.engines.windows_echo import WindowsEchoSocket  # noqa: PLC0415 - as above

    return WindowsEchoSocket(IpHelper(), binding, address)


def _mac_plain(binding: Binding, address: str, port: int) -> ProbeSocket:
    from agent.engines.macos_echo import tie  # noqa: PLC0415 - macOS only
    from agent.engines.plain_datagram import open_plain_socket  # noqa: PLC0415 - as above

    return open_plain_socket(tie, binding, address, port)


def _windows_plain(binding: Binding, address: str, port: int) -> ProbeSocket:
    from agent.engines.plain_datagram import open_plain_socket  # noqa: PLC0415 - Windows only
    from agent.engines.windows_tying import tie  # noqa: PLC0415 - as above

    return open_plain_socket(tie, binding, address, port)


_FACTS: Mapping[str, Callable[[], FactsPort]] = {
    LINUX: _linux_facts,
    MACOS: _mac_facts,
    WINDOWS: _windows_facts,
}
_ECHO: Mapping[str, EchoOpener] = {MACOS: _mac_echo, WINDOWS: _windows_echo}
_PLAIN: Mapping[str, PlainOpener] = {MACOS: _mac_plain, WINDOWS: _windows_plain}
