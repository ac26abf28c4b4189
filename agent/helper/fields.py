"""The fields of a request, each checked against its form before anything is done."""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from ipaddress import AddressValueError, IPv4Address
from typing import Any

INTERFACE = re.compile(r"[A-Za-z0-9_.@-]{1,15}")
"""Linux names have at most 15 bytes (IFNAMSIZ); odder ones than these are not served."""

NONE: frozenset[str] = frozenset()
HARDWARE_ADDRESS = re.compile(r"[0-9a-f]{2}(?::[0-9a-f]{2}){5}")


class Refusal(Exception):  # noqa: N818 - what the helper does, not a fault of its own
    """Raised for any input but a form of `request.FORMS`; `problem` says which rule it breaks."""

    def __init__(self, problem: str) -> None:
        super().__init__(problem)
        self.problem = problem


def only(form: dict[str, Any], needed: AbstractSet[str], optional: AbstractSet[str] = NONE) -> None:
    """Raise Refusal where a form lacks a needed field or has one of neither kind."""
    if form.keys() - optional != needed:
        raise Refusal("other fields than the form has")


def text(value: object, form: re.Pattern[str], field: str) -> str:
    """Return a text of the given form. Raises Refusal."""
    if not isinstance(value, str) or not form.fullmatch(value):
        raise Refusal(f"{field} has another form")
    return value


def interface(form: dict[str, Any]) -> str:
    """Return the name of the port. Raises Refusal."""
    return text(form["interface"], INTERFACE, "interface")


def hardware_address(form: dict[str, Any]) -> bytes:
    """Return the six bytes of one station's address. Raises Refusal."""
    written = text(form["hardware_address"], HARDWARE_ADDRESS, "hardware_address")
    address = bytes.fromhex(written.replace(":", ""))
    if address[0] & 1:
        raise Refusal("hardware_address is a group's")
    return address


def seconds(form: dict[str, Any], shortest: float, longest: float) -> float:
    """Return `listen_s` within its bounds. Raises Refusal."""
    value = form["listen_s"]
    if type(value) not in (int, float) or not shortest <= float(str(value)) <= longest:
        raise Refusal(f"listen_s is not within {shortest:g} to {longest:g}")
    return float(str(value))


def truth(value: object, field: str) -> bool:
    """Return true or false. Raises Refusal."""
    if not isinstance(value, bool):
        raise Refusal(f"{field} is neither true nor false")
    return value


def addresses(value: object, most: int, field: str) -> tuple[str, ...]:
    """Return a list of IPv4 addresses that one station can hold. Raises Refusal."""
    if not isinstance(value, list) or len(value) > most:
        raise Refusal(f"{field} is no list of at most {most}")
    return tuple(_address(one, field) for one in value)


def _address(value: object, field: str) -> str:
    try:
        address = IPv4Address(value if isinstance(value, str) else "")
    except AddressValueError as error:
        raise Refusal(f"{field} holds no IPv4 address") from error
    if address.is_multicast or address.is_unspecified or address.is_loopback:
        raise Refusal(f"{field} holds no station's address")
    return str(address)
