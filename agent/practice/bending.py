"""Makes the routers of a built network do what its path asks for."""

from __future__ import annotations

from collections.abc import Iterator

from agent.practice.filtering import load_table
from agent.practice.stage import Stage
from agent.practice.topology import core_names, home_routers

_TIME_EXCEEDED = ("icmp type time-exceeded", "icmpv6 type time-exceeded")
_TOO_LARGE = (
    "icmp type destination-unreachable icmp code frag-needed",
    "icmpv6 type packet-too-big",
)
_CLAMP = "tcp flags syn tcp option maxseg size set rt mtu"


def bend_path(stage: Stage, nft: str | None) -> None:
    """Make the routers do what the path asks for. Raises PracticeBroken without nftables."""
    path = stage.spec.path
    if path.narrow:
        for host, port in _ends(stage, path.narrow.at):
            stage.bench.mtu(host, port, path.narrow.mtu_bytes)
    for host, rules in sorted(_rules(stage).items()):
        load_table(stage, host, _table(rules), nft)


def routers(stage: Stage) -> tuple[str, ...]:
    """Return the routers from distance 1 on."""
    return (*home_routers(stage.spec), "edge", *core_names(stage.spec.hops))


def _ends(stage: Stage, at: int) -> tuple[tuple[str, str], tuple[str, str]]:
    chain = routers(stage)
    if chain[at - 1] == "edge":
        return (chain[at - 2], "wan"), ("edge", "line")
    return (chain[at - 2], "out"), (chain[at - 1], "in")


def _rules(stage: Stage) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for host, chain in _wanted(stage):
        found.setdefault(host, []).append(chain)
    return found


def _wanted(stage: Stage) -> Iterator[tuple[str, str]]:
    path, chain = stage.spec.path, routers(stage)
    for at in path.silent:
        yield chain[at - 1], _chain("silent", "output", _TIME_EXCEEDED, "drop")
    rate = f"limit rate over {path.limited_per_s}/second burst 1 packets drop"
    for at in path.limited:
        yield chain[at - 1], _chain("limited", "output", _TIME_EXCEEDED, rate)
    if path.narrow and path.narrow.swallowed:
        for host, _ in _ends(stage, path.narrow.at):
            yield host, _chain("swallowed", "output", _TOO_LARGE, "drop")
    if path.clamp_mss:
        yield chain[0], _chain("clamped", "forward", (_CLAMP,))


def _chain(name: str, hook: str, matches: tuple[str, ...], verdict: str = "") -> str:
    rules = "".join(f" {match} {verdict};" for match in matches)
    return f"chain {name} {{ type filter hook {hook} priority filter;{rules} }}"


def _table(chains: list[str]) -> str:
    return "table inet path {\n" + "\n".join(chains) + "\n}\n"
