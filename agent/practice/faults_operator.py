"""The faults of the operator's network and its server, and what looks like one and is none."""

from __future__ import annotations

from agent.practice.beyond import BusyEdge
from agent.practice.fault import GIVES_WAY, Effect, Fault, each

LEFT_SHARES = (0.8, 0.55, 0.3)
LEFT_IN_A_RUSH = (0.6, 0.4, 0.2)
"""Less than without a break: in between the tier is there, and only the mean of both is missed."""

SWING_S = 5.0
"""From one rush to the next: so short that a visit of seconds sees what an evening shows."""


def _busy(left_share: float, swing_s: float = 0.0) -> Effect:
    busy = BusyEdge(left_share=left_share, swing_s=swing_s)
    return Effect(beyond={"busy": busy}, line={"congestion": GIVES_WAY})


FAULTS: tuple[Fault, ...] = (
    Fault(
        name="busy-edge",
        segment="operator",
        sentence="Other customers crowd the link behind the operator's edge, without a break.",
        effects=each(*(_busy(share) for share in LEFT_SHARES)),
        findings=("operator-congested",),
    ),
    Fault(
        name="busy-edge-wavering",
        segment="operator",
        sentence="The same link is crowded for some seconds and then free again, as in an evening.",
        effects=each(*(_busy(share, SWING_S) for share in LEFT_IN_A_RUSH)),
        findings=("operator-congested", "rate-unsteady"),
    ),
    Fault(
        name="lossy-core",
        segment="operator",
        sentence="Packets are lost between the operator's edge and its core, both ways.",
        effects=each(*(Effect(beyond={"core_loss": loss}) for loss in (0.01, 0.02, 0.05))),
        findings=("loss-in-operator",),
    ),
    Fault(
        name="detour",
        segment="operator",
        sentence="The way to the server goes a long way round inside the operator's network.",
        effects=each(*(Effect(beyond={"detour_ms": ms}) for ms in (40.0, 80.0, 160.0))),
        findings=("path-detour", "delay-high"),
    ),
    Fault(
        name="mtu-black-hole",
        segment="operator",
        sentence="A link behind the edge swallows large packets and tells nobody.",
        effects=each(*(Effect(beyond={"hole_mtu_bytes": mtu}) for mtu in (1480, 1400, 1300))),
        findings=("large-packets-vanish",),
    ),
    Fault(
        name="server-slow",
        segment="operator",
        sentence="The measuring server's own port is slower than the tier.",
        effects=each(*(Effect(beyond={"server_share": share}) for share in (0.7, 0.5, 0.3))),
        findings=("server-limits", "held-past-line"),
    ),
    Fault(
        name="silent-echo",
        segment="none",
        sentence="A good line whose operator's routers and server answer no echo and no walk.",
        effects=each(
            Effect(strike="edge_hushed"),
            Effect(strike="routers_hushed"),
            Effect(strike="operator_hushed"),
        ),
    ),
    Fault(
        name="limited-hop",
        segment="none",
        sentence="A good line whose operator's routers answer only so many probes a second.",
        effects=each(
            *(Effect(strike="answers_limited", plays={"answers_per_s": n}) for n in (50, 20, 5))
        ),
    ),
)
