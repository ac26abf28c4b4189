"""The sound homes that can be played: what each gives the laptop to speak and to stand on."""

from __future__ import annotations

from dataclasses import dataclass

PLAIN = "ipv4-only"
DUAL_STACK = "dual-stack"
TRANSLATED = "translated"
STATIC = "static"
DOUBLE_ROUTER = "double-router"
AT_MODEM = "at-modem"


@dataclass(frozen=True, slots=True, kw_only=True)
class Home:
    """One kind of home in which nothing is wrong.

    `ipv4` and `ipv6` are what the laptop speaks. `translation` reaches IPv4 from IPv6 alone by a
    translator in the operator's network (RFC 6146) and names made to fit it (RFC 6147).
    `handover` None leaves it as ordered. `routers` is how many translate addresses in a row; with
    none the laptop is plugged into the modem and has its address of the operator's edge.
    """

    sentence: str
    ipv4: bool = True
    ipv6: bool = False
    translation: bool = False
    handover: str | None = None
    routers: int = 1


HOMES: dict[str, Home] = {
    PLAIN: Home(sentence="One router, IPv4 alone."),
    DUAL_STACK: Home(sentence="One router, IPv4 and IPv6 side by side.", ipv6=True),
    TRANSLATED: Home(
        sentence="IPv6 alone; the operator translates what has only IPv4.",
        ipv4=False,
        ipv6=True,
        translation=True,
    ),
    STATIC: Home(sentence="The laptop's IPv4 address was typed in by hand.", handover="static"),
    DOUBLE_ROUTER: Home(sentence="A second router behind the first, both at work.", routers=2),
    AT_MODEM: Home(
        sentence="The laptop is plugged into the modem; the operator hands out its address.",
        routers=0,
    ),
}
