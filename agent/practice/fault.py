"""What a fault of the practice network is: data, one effect per severity."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from agent.practice.line import Severity

DHCP = "dhcp"
RESOLVER = "resolver"
SERVER = "server"

GIVES_WAY = "reno"
"""Senders that go on until a packet is lost and then give way (RFC 5681 §3.1): they fill any queue,
and take of a crowded link little more than what is left. Every namespace may choose them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What a fault does at one severity; `tier_share` is the rate as a share of the tier.

    `up_share` is that of the upload alone; `profile_steps` is how many products of the catalogue
    below its own the line carries. `line` and `beyond` are members that they set of `LineSpec` and
    of its `beyond`.

    `home` is the kind of home that the fault needs, None where any will do.
    `silent` names services that do not answer, `handover` is another than ordered. `prepare` and
    `strike` name functions of `agent.practice.strikes` that act on the built network: before the
    laptop takes its lease, and after it. `tells` are facts of the laptop that no kernel can play:
    the visit is told them, and its record says so. `plays` are the figures of what is played in
    home and laptop, unit in the name: strikes read them, and the truth of the record says them.
    `least_down_bps` is the slowest tier on which the effect can be seen, None where any will do.
    """

    tier_share: float | None = None
    up_share: float | None = None
    profile_steps: int = 0
    line: Mapping[str, Any] = field(default_factory=dict)
    beyond: Mapping[str, Any] = field(default_factory=dict)
    loss: float | None = None
    silent: frozenset[str] = frozenset()
    handover: str | None = None
    prepare: str | None = None
    strike: str | None = None
    home: str | None = None
    tells: Mapping[str, str | int] = field(default_factory=dict)
    plays: Mapping[str, float] = field(default_factory=dict)
    least_down_bps: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault with its true segment and one sentence for the list.

    `findings` are the codes that name it, any of them; with `probe` only a visit with the right to
    probe for addresses can tell.
    """

    name: str
    segment: str
    sentence: str
    effects: Mapping[Severity, Effect] = field(repr=False)
    findings: tuple[str, ...] = ()
    probe: bool = False


def always(effect: Effect) -> dict[Severity, Effect]:
    """Return the same effect for every severity."""
    return dict.fromkeys(Severity, effect)


def each(light: Effect, medium: Effect, severe: Effect) -> dict[Severity, Effect]:
    """Return an effect for each severity."""
    return {Severity.LIGHT: light, Severity.MEDIUM: medium, Severity.SEVERE: severe}
