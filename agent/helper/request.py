"""The one form that the helper accepts, and the forms of its answers."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Any, NoReturn

from agent.codec.dhcp_options import Option, Options

LONGEST_LINE = 4096
SHORTEST_S, LONGEST_S = 6, 60
FIELDS = {"want", "interface", "hardware_address", "listen_s"}
INTERFACE = re.compile(r"[A-Za-z0-9_.@-]{1,15}")
"""Linux names have at most 15 bytes (IFNAMSIZ); odder ones than these are not served."""

HARDWARE_ADDRESS = re.compile(r"[0-9a-f]{2}(?::[0-9a-f]{2}){5}")
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


class Refusal(Exception):  # noqa: N818 - what the helper does, not a fault of its own
    """Raised for any input but the one form; `problem` says which rule it breaks."""

    def __init__(self, problem: str) -> None:
        super().__init__(problem)
        self.problem = problem


@dataclass(frozen=True, slots=True, kw_only=True)
class OffersWanted:
    """A checked request; `hardware_address` as six bytes, `listen_s` seconds."""

    interface: str
    hardware_address: bytes
    listen_s: float
    options: Options = ()


def parse_request(line: bytes) -> OffersWanted:
    """Return the request in one line of JSON. Raises Refusal for anything else."""
    if len(line) > LONGEST_LINE or not line.endswith(b"\n"):
        raise Refusal("not one line")
    form = _form(line)
    if form.keys() - {"options"} != FIELDS:
        raise Refusal("other fields than the form has")
    if form["want"] != "offers":
        raise Refusal("other wishes than offers")
    return OffersWanted(
        interface=_text(form["interface"], INTERFACE, "interface"),
        hardware_address=_hardware_address(form["hardware_address"]),
        listen_s=_seconds(form["listen_s"]),
        options=_options(form.get("options", {})),
    )


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


def _text(value: object, form: re.Pattern[str], field: str) -> str:
    if not isinstance(value, str) or not form.fullmatch(value):
        raise Refusal(f"{field} has another form")
    return value


def _hardware_address(value: object) -> bytes:
    address = bytes.fromhex(_text(value, HARDWARE_ADDRESS, "hardware_address").replace(":", ""))
    if address[0] & 1:
        raise Refusal("hardware_address is a group's")
    return address


def _seconds(value: object) -> float:
    if type(value) not in (int, float) or not SHORTEST_S <= float(str(value)) <= LONGEST_S:
        raise Refusal(f"listen_s is not within {SHORTEST_S} to {LONGEST_S}")
    return float(str(value))


def _options(value: object) -> Options:
    if not isinstance(value, dict) or value.keys() - SETTABLE.keys():
        raise Refusal("other options than may be set")
    return tuple(
        (SETTABLE[code], bytes.fromhex(_text(text, HEX, f"option {code}")))
        for code, text in value.items()
    )
