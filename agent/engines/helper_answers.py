"""From the helper's answers to frozen measurements: nothing of their form is taken on trust.

Every function here raises KeyError, TypeError, ValueError or OverflowError for another form; the
client turns those into one error.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from agent.measurements import (
    AddressUse,
    Concentrator,
    LeaseProbe,
    Nak,
    Offer,
    OfferedRoute,
    PppoeProbe,
)

Form = dict[str, Any]
Part = TypeVar("Part")


def lease_probe(form: Form) -> LeaseProbe:
    """Return the probe of an answer to a wish for offers."""
    return LeaseProbe(
        sent=number(form["sent"]),
        listened_s=float(form["listened_s"]),
        malformed=number(form["malformed"]),
        offers=each(form["offers"], _offer),
        presence_asked=truth(form["presence_asked"]),
        naks=each(form["naks"], _nak),
        overheard=texts(form["overheard"]),
        probed=texts(form["probed"]),
        in_use=each(form["in_use"], _use),
    )


def pppoe_probe(form: Form) -> PppoeProbe:
    """Return the probe of an answer to a wish for concentrators."""
    return PppoeProbe(
        sent=number(form["sent"]),
        listened_s=float(form["listened_s"]),
        malformed=number(form["malformed"]),
        concentrators=each(form["concentrators"], _concentrator),
    )


def _offer(form: Form) -> Offer:
    return Offer(
        after_ms=float(form["after_ms"]),
        server_id=perhaps_text(form["server_id"]),
        server_hardware_address=perhaps_text(form["server_hardware_address"]),
        address=str(form["address"]),
        lease_s=perhaps_number(form["lease_s"]),
        t1_s=perhaps_number(form["t1_s"]),
        t2_s=perhaps_number(form["t2_s"]),
        subnet_mask=perhaps_text(form["subnet_mask"]),
        routers=texts(form["routers"]),
        dns=texts(form["dns"]),
        routes=each(form["routes"], _route),
        routes_given=truth(form["routes_given"]),
        relay=perhaps_text(form["relay"]),
        mtu_bytes=perhaps_number(form["mtu_bytes"]),
        captive_api=perhaps_text(form["captive_api"]),
        ipv6_only_s=perhaps_number(form["ipv6_only_s"]),
        faulty_options=each(form["faulty_options"], number),
    )


def _route(form: Form) -> OfferedRoute:
    return OfferedRoute(
        network=str(form["network"]), prefix=number(form["prefix"]), router=str(form["router"])
    )


def _nak(form: Form) -> Nak:
    return Nak(
        after_ms=float(form["after_ms"]),
        server_id=perhaps_text(form["server_id"]),
        server_hardware_address=perhaps_text(form["server_hardware_address"]),
        to_system=truth(form["to_system"]),
        message=perhaps_text(form["message"]),
    )


def _use(form: Form) -> AddressUse:
    return AddressUse(
        address=str(form["address"]),
        hardware_address=str(form["hardware_address"]),
        after_ms=float(form["after_ms"]),
        held=truth(form["held"]),
    )


def _concentrator(form: Form) -> Concentrator:
    return Concentrator(
        after_ms=float(form["after_ms"]),
        hardware_address=str(form["hardware_address"]),
        name=str(form["name"]),
        services=texts(form["services"]),
        cookie_bytes=perhaps_number(form["cookie_bytes"]),
        error=perhaps_text(form["error"]),
    )


def each(value: object, read: Callable[[Any], Part]) -> tuple[Part, ...]:
    """Return what `read` makes of each entry of a list."""
    if not isinstance(value, list):
        raise TypeError
    return tuple(read(one) for one in value)


def texts(value: object) -> tuple[str, ...]:
    """Return a list's entries as texts."""
    return each(value, str)


def perhaps_text(value: object) -> str | None:
    """Return a text, None for nothing."""
    return None if value is None else str(value)


def perhaps_number(value: object) -> int | None:
    """Return a whole number, None for nothing."""
    return None if value is None else number(value)


def number(value: object) -> int:
    """Return a whole number; truth is none."""
    if type(value) is not int:
        raise TypeError
    return value


def truth(value: object) -> bool:
    """Return a truth; a number is none."""
    if type(value) is not bool:
        raise TypeError
    return value
