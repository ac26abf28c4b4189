"""Faults of the line and the operator's routers, as they act on the built network."""

from __future__ import annotations

from agent.practice.faults import played_figures
from agent.practice.filtering import strike_table
from agent.practice.stage import Stage
from agent.practice.topology import core_names

_ECHO = ("icmp type echo-request", "icmpv6 type echo-request")
_TOLD = ("icmp type time-exceeded", "icmpv6 type time-exceeded")
_REFUSED = (
    "icmp type destination-unreachable icmp code port-unreachable",
    "icmpv6 type destination-unreachable icmpv6 code port-unreachable",
)
_ANSWERS = (
    "icmp type { echo-reply, time-exceeded }",
    "icmpv6 type { echo-reply, time-exceeded }",
)
AT_ONCE = 5
"""Answers that a router gives before its limit holds."""


def modem_dead(stage: Stage) -> None:
    """Let the bridge pass nothing and the management address be silent; ports stay up."""
    stage.bench.down("modem", "bridge")


def gateway_dead(stage: Stage) -> None:
    """Let the home router answer nothing and forward nothing; its ports stay up."""
    stage.stop("dhcp")
    stage.bench.forget_addresses("router", "lan")
    stage.bench.switch("router", "net.ipv4.ip_forward", 0)


def edge_hushed(stage: Stage) -> None:
    """Let the edge answer no echo and say nothing of a hop limit that ran out."""
    _hush(stage, ("edge",))


def routers_hushed(stage: Stage) -> None:
    """Let every router of the operator do so, and its server answer no echo."""
    _hush(stage, _operators(stage))


def operator_hushed(stage: Stage) -> None:
    """Let them say nothing of a closed port either, which ends a walk."""
    _hush(stage, _operators(stage), _REFUSED)


def answers_limited(stage: Stage) -> None:
    """Let the operator's routers answer so many probes a second and no more."""
    per_s = round(played_figures(stage.spec)["answers_per_s"])
    rate = f"limit rate over {per_s}/second burst {AT_ONCE} packets drop"
    for host in _routers(stage):
        strike_table(stage, host, _table(_chain("output", _ANSWERS, rate)))


def _routers(stage: Stage) -> tuple[str, ...]:
    return ("edge", *core_names(stage.spec.hops))


def _operators(stage: Stage) -> tuple[str, ...]:
    return (*_routers(stage), "server")


def _hush(stage: Stage, hosts: tuple[str, ...], also: tuple[str, ...] = ()) -> None:
    heard, said = _chain("input", _ECHO, "drop"), _chain("output", (*_TOLD, *also), "drop")
    for host in hosts:
        strike_table(stage, host, _table(heard, said))


def _chain(hook: str, matches: tuple[str, ...], verdict: str) -> str:
    rules = "".join(f" {match} {verdict};" for match in matches)
    return f"chain {hook} {{ type filter hook {hook} priority filter;{rules} }}"


def _table(*chains: str) -> str:
    return "table inet answers {\n" + "\n".join(chains) + "\n}\n"


STRIKES = (
    modem_dead,
    gateway_dead,
    edge_hushed,
    routers_hushed,
    operator_hushed,
    answers_limited,
)
