"""Leases, gateways and resolvers on Windows, from the registry; any user may read these keys.

Written after the vendor's reference; never run on a real system.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from typing import Any, Protocol

from agent.codec.windows_lease import RegisteredAddress, registered_address
from agent.codec.windows_route import decode_row
from agent.engines.portable_facts import FoundWay
from agent.errors import MalformedMessage
from agent.measurements import LeaseFacts

SOURCE = "registry"
INTERFACES = r"SYSTEM\CurrentControlSet\Services\Tcpip\Parameters\Interfaces"
MOST_KEYS = 200
MOST_VALUES = 200


class Registry(Protocol):
    """What the registry keeps of each interface."""

    def interfaces(self) -> tuple[Mapping[str, object], ...]:
        """Return the values of every interface's key; none where they may not be read."""
        ...


class BestRoute(Protocol):
    """The system's call for the way in force; see `IpHelper`."""

    def best_route(self, address: str) -> bytes:
        """Return the row towards an IPv4 address, empty where there is none."""
        ...


class SystemRegistry:
    """The registry of this computer."""

    def interfaces(self) -> tuple[Mapping[str, object], ...]:
        """Return the values of every interface's key; none where they may not be read."""
        winreg: Any = importlib.import_module("winreg")
        found: list[Mapping[str, object]] = []
        with suppress(OSError), winreg.OpenKey(winreg.HKEY_LOCAL_MACHINE, INTERFACES) as parent:
            for place in range(MOST_KEYS):
                with winreg.OpenKey(parent, winreg.EnumKey(parent, place)) as key:
                    found.append(dict(_values(winreg, key)))
        return tuple(found)


def _values(winreg: Any, key: Any) -> Iterator[tuple[str, object]]:
    """Yield the values of a key by name, to its end."""
    with suppress(OSError):
        for place in range(MOST_VALUES):
            name, value, _ = winreg.EnumValue(key, place)
            yield name, value


class WindowsTold:
    """Leases and resolvers by the address that the interface really holds; see `Told`."""

    def __init__(self, registry: Registry) -> None:
        self._registry = registry

    def lease(
        self,
        address: str,
        interface: str = "",  # noqa: ARG002 - the registry knows it by another name
    ) -> LeaseFacts | None:
        """Return what the registry says of an IPv4 address, None for an address not in it."""
        said = registered(self._registry, address)
        return None if said is None else _facts(said, address)

    def resolvers(self, addresses: tuple[str, ...]) -> tuple[str, ...]:
        """Return the resolvers of the interface that holds the addresses."""
        found = (registered(self._registry, address) for address in addresses)
        return tuple(dict.fromkeys(name for said in found if said for name in said.dns))


class WindowsWays:
    """IPv4 ways by the system's call and the registry, none of IPv6; see `Ways`."""

    def __init__(self, calls: BestRoute, registry: Registry) -> None:
        self._calls = calls
        self._registry = registry

    def towards(self, address: str) -> FoundWay | None:
        """Return the way to an IPv4 address in force; the interface is not named by this call."""
        if ":" in address:
            return None
        try:
            row = decode_row(self._calls.best_route(address))
        except MalformedMessage:
            return None
        return None if row is None else FoundWay(gateway=row.gateway)

    def default_gateway(
        self,
        interface: str,  # noqa: ARG002 - the registry knows it by another name
        addresses: tuple[str, ...],
        family: int,
    ) -> str | None:
        """Return the IPv4 gateway set for the interface that holds the addresses."""
        if family != 4:
            return None
        found = (registered(self._registry, address) for address in addresses)
        gateways = (gateway for said in found if said for gateway in said.gateways)
        return next(gateways, None)


def registered(registry: Registry, address: str) -> RegisteredAddress | None:
    """Return the newest settings that hold an address: adapters put away keep their last one."""
    every = (registered_address(values) for values in registry.interfaces())
    fitting = [said for said in every if address in said.addresses]
    never = datetime.min.replace(tzinfo=UTC)
    return max(fitting, key=lambda said: said.obtained or never, default=None)


def _facts(said: RegisteredAddress, address: str) -> LeaseFacts:
    origins = {True: "dhcp", False: "static", None: "unknown"}
    told = {
        "gateway": said.gateways[0] if said.gateways else None,
        "server_id": said.server_id,
        "lease_s": said.lease_s,
        "t1_s": said.t1_s,
        "t2_s": said.t2_s,
        "obtained": _rfc3339(said.obtained),
        "expires": _rfc3339(said.expires),
    }
    named: dict[str, Any] = {name: value for name, value in told.items() if value is not None}
    return LeaseFacts(
        family=4,
        origin=origins[said.dhcp],
        address=address,
        dns=said.dns,
        sources=dict.fromkeys(("origin", *named, *(["dns"] if said.dns else [])), SOURCE),
        **named,
    )


def _rfc3339(when: datetime | None) -> str | None:
    return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ") if when else None
