"""The forms that the helper accepts: one line of JSON, its `want` names the form."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NoReturn

from agent.codec.dhcp_options import Option, Options
from agent.helper import fields
from agent.helper.fields import Refusal

LONGEST_LINE = 4096
SHORTEST_S, LONGEST_S = 6, 60
SHORTEST_PADO_S, LONGEST_PADO_S = 1, 30
MOST_HELD = 4
PORT_FIELDS = frozenset({"want", "interface", "hardware_address", "listen_s"})
HEX = re.compile(r"(?:[0-9a-f]{2}){1,255}")
SETTABLE = {
    str(int(code)): code
    for code in (
        Option.VENDOR_CLASS,
        Option.CLIENT_ID,
        Option.USER_CLASS,
        Option.VENDOR_IDENTIFYING,
    )
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OffersWanted:
    """A checked request for offers; `hardware_address` as six bytes, `listen_s` seconds.

    `held` are the addresses that the port has: whether another station uses them is asked too. With
    `presence`, and where nobody offers, it is asked whether a server is there at all.
    """

    interface: str
    hardware_address: bytes
    listen_s: float
    options: Options = ()
    held: tuple[str, ...] = ()
    presence: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ConcentratorsWanted:
    """A checked request for the access concentrators of a PPPoE line (RFC 2516 §5.1)."""

    interface: str
    hardware_address: bytes
    listen_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoutersWanted:
    """A checked request for routers and DHCPv6 servers (RFC 4861 §4.1, RFC 8415 §18.2.1)."""

    interface: str
    hardware_address: bytes
    listen_s: float


Wanted = OffersWanted | ConcentratorsWanted | RoutersWanted


def _offers(form: dict[str, Any]) -> OffersWanted:
    fields.only(form, PORT_FIELDS, {"options", "held", "presence"})
    return OffersWanted(
        interface=fields.interface(form),
        hardware_address=fields.hardware_address(form),
        listen_s=fields.seconds(form, SHORTEST_S, LONGEST_S),
        options=_options(form.get("options", {})),
        held=fields.addresses(form.get("held", []), MOST_HELD, "held"),
        presence=fields.truth(form.get("presence", True), "presence"),
    )


def _concentrators(form: dict[str, Any]) -> ConcentratorsWanted:
    fields.only(form, PORT_FIELDS)
    return ConcentratorsWanted(
        interface=fields.interface(form),
        hardware_address=fields.hardware_address(form),
        listen_s=fields.seconds(form, SHORTEST_PADO_S, LONGEST_PADO_S),
    )


def _routers(form: dict[str, Any]) -> RoutersWanted:
    fields.only(form, PORT_FIELDS)
    return RoutersWanted(
        interface=fields.interface(form),
        hardware_address=fields.hardware_address(form),
        listen_s=fields.seconds(form, SHORTEST_S, LONGEST_S),
    )


FORMS: dict[str, Callable[[dict[str, Any]], Wanted]] = {
    "offers": _offers,
    "concentrators": _concentrators,
    "routers": _routers,
}
"""Each wish with the check of its form; `serving.serve` does what was checked."""


def parse_request(line: bytes) -> Wanted:
    """Return the request in one line of JSON. Raises Refusal for anything else."""
    if len(line) > LONGEST_LINE or not line.endswith(b"\n"):
        raise Refusal("not one line")
    form = _form(line)
    wish = form.get("want")
    checked = FORMS.get(wish) if isinstance(wish, str) else None
    if checked is None:
        raise Refusal("a wish that is not served")
    return checked(form)


def _form(line: bytes) -> dict[str, Any]:
    try:
        form = json.loads(
            line.decode("ascii"), object_pairs_hook=_unrepeated, parse_constant=_no_constant
        )
    except (ValueError, RecursionError) as error:
        raise Refusal("no JSON") from error
    if not isinstance(form, dict):
        raise Refusal("no object")
    return form


def _unrepeated(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise Refusal("a repeated field")
    return found


def _no_constant(name: str) -> NoReturn:
    raise Refusal(f"{name} is no number")


def _options(value: object) -> Options:
    if not isinstance(value, dict) or value.keys() - SETTABLE.keys():
        raise Refusal("other options than may be set")
    return tuple(
        (SETTABLE[code], bytes.fromhex(fields.text(text, HEX, f"option {code}")))
        for code, text in value.items()
    )
