"""Further faults of line, modem and operator: other sizes, one way alone, other places."""

from __future__ import annotations

from agent.practice.beyond import BusyEdge
from agent.practice.fault import GIVES_WAY, Effect, Fault, always, each
from agent.practice.homes import AT_MODEM, DOUBLE_ROUTER, DUAL_STACK, STATIC
from agent.practice.path import NarrowLink, PathSpec

SECOND_LOWEST_BPS = 50_000_000
"""Of the catalogue's wired products; below the lowest there is none to be mixed up with."""

BARELY = 1e-6
"""So little is lost that nothing is; it makes the link one that a carrier of its own plays."""

FAR_ROUTERS = 3
SECOND_CORE = 4
"""The distance of the second core router, in a home of one router."""

LOSS_NEAR = ("loss-past-modem", "loss-before-first-hop")


def _plays(strike: str, **figures: float) -> Effect:
    return Effect(strike=strike, plays=figures)


def _loses_long(share: float) -> Effect:
    return Effect(
        strike="line_loses_long", plays={"long_loss": share}, line={"congestion": GIVES_WAY}
    )


def _one_queue(strike: str, depth_ms: float) -> Effect:
    return Effect(strike=strike, plays={"one_queue_ms": depth_ms}, line={"congestion": GIVES_WAY})


def _first_stretch(**figures: float) -> Effect:
    return Effect(beyond={"core_loss": BARELY}, prepare="core_first_stretch", plays=figures)


def _second_stretch(**figures: float) -> Effect:
    return Effect(beyond={"detour_ms": BARELY}, prepare="core_second_stretch", plays=figures)


def _far_hole(mtu_bytes: int) -> Effect:
    narrow = NarrowLink(at=SECOND_CORE, mtu_bytes=mtu_bytes, swallowed=True)
    return Effect(line={"hops": FAR_ROUTERS, "path": PathSpec(narrow=narrow)})


def _crowd(left_share: float, *, swing_s: float = 0.0, prepare: str | None = None) -> Effect:
    busy = BusyEdge(left_share=left_share, swing_s=swing_s)
    return Effect(beyond={"busy": busy}, line={"congestion": GIVES_WAY}, prepare=prepare)


def _guests(left_share: float) -> Effect:
    return Effect(
        strike="server_busy",
        plays={"server_left_share": left_share},
        line={"congestion": GIVES_WAY},
    )


def _profile_up(steps: int) -> Effect:
    return Effect(
        strike="profile_up",
        plays={"profile_steps_up": steps},
        least_down_bps=SECOND_LOWEST_BPS,
    )


FAULTS: tuple[Fault, ...] = (
    Fault(
        name="slow-down-alone",
        segment="access",
        sentence="The access line carries a part of the tier's download; the upload is whole.",
        effects=each(*(Effect(tier_share=share, up_share=1.1) for share in (0.7, 0.42, 0.2))),
        findings=("slow-line",),
    ),
    Fault(
        name="slow-and-lossy",
        segment="access",
        sentence="The access line carries a part of the tier and loses packets as well.",
        effects=each(
            Effect(tier_share=0.75, loss=0.01),
            Effect(tier_share=0.6, loss=0.02),
            Effect(tier_share=0.4, loss=0.04),
        ),
        findings=("slow-line", *LOSS_NEAR),
    ),
    Fault(
        name="slow-static",
        segment="access",
        sentence="The line carries a part of the tier; the laptop's address was typed in.",
        effects=each(*(Effect(tier_share=share, home=STATIC) for share in (0.65, 0.4, 0.15))),
        findings=("slow-line",),
    ),
    Fault(
        name="slow-up-at-modem",
        segment="access",
        sentence="The line carries a part of the tier's upload; the laptop is at the modem.",
        effects=each(*(Effect(up_share=share, home=AT_MODEM) for share in (0.7, 0.3, 0.1))),
        findings=("slow-line",),
    ),
    Fault(
        name="lossy-down-runs",
        segment="access",
        sentence="The access line loses packets in runs on their way down; the way up is sound.",
        effects=each(
            Effect(line={"loss_down": 0.015, "burst": 4.0}),
            Effect(line={"loss_down": 0.03, "burst": 6.0}),
            Effect(line={"loss_down": 0.08, "burst": 12.0}),
        ),
        findings=LOSS_NEAR,
    ),
    Fault(
        name="lossy-dual-stack",
        segment="access",
        sentence="The line loses packets both ways in a home with IPv6 beside IPv4.",
        effects=each(*(Effect(loss=loss, home=DUAL_STACK) for loss in (0.008, 0.03, 0.08))),
        findings=LOSS_NEAR,
    ),
    Fault(
        name="lossy-double-router",
        segment="access",
        sentence="The line loses packets both ways; two routers stand before it.",
        effects=each(*(Effect(loss=loss, home=DOUBLE_ROUTER) for loss in (0.01, 0.03, 0.06))),
        findings=LOSS_NEAR,
    ),
    Fault(
        name="lossy-silent-edge",
        segment="access",
        sentence="The line loses packets both ways, and the operator's edge answers no probe.",
        effects=each(*(Effect(loss=loss, strike="edge_hushed") for loss in (0.01, 0.025, 0.06))),
        findings=("loss-past-gateway", *LOSS_NEAR),
    ),
    Fault(
        name="line-loses-long",
        segment="access",
        sentence="The access line loses a share of long packets alone; short ones pass.",
        effects=each(*map(_loses_long, (0.03, 0.08, 0.2))),
        findings=("slow-line", *LOSS_NEAR),
    ),
    Fault(
        name="line-drops-brief",
        segment="access",
        sentence="The line goes dark for short moments again and again.",
        effects=each(
            Effect(line={"dark_s": 0.4, "dark_every_s": 2.5}),
            Effect(line={"dark_s": 0.9, "dark_every_s": 3.0}),
            Effect(line={"dark_s": 2.5, "dark_every_s": 4.0}),
        ),
        findings=("line-drops",),
    ),
    Fault(
        name="noisy-and-lossy",
        segment="access",
        sentence="The line delays every packet by another time and loses some of them.",
        effects=each(
            Effect(line={"jitter_ms": 4.0}, loss=0.008),
            Effect(line={"jitter_ms": 8.0}, loss=0.015),
            Effect(line={"jitter_ms": 15.0}, loss=0.03),
        ),
        findings=("delay-varies", *LOSS_NEAR),
    ),
    Fault(
        name="deep-buffer-up",
        segment="none",
        sentence="The queue before the line is far too deep on the way up alone.",
        effects=each(*(_one_queue("queue_up", ms) for ms in (400.0, 1000.0, 3000.0))),
        findings=("delay-rises-under-load",),
    ),
    Fault(
        name="deep-buffer-down",
        segment="none",
        sentence="The queue before the line is far too deep on the way down alone.",
        effects=each(*(_one_queue("queue_down", ms) for ms in (350.0, 700.0, 1500.0))),
        findings=("delay-rises-under-load",),
    ),
    Fault(
        name="modem-mute-upwards",
        segment="modem",
        sentence="The modem answers the home and sends nothing up the line.",
        effects=always(_plays("modem_passes_nothing_up")),
        findings=("nothing-past-modem", "nothing-past-gateway"),
    ),
    Fault(
        name="modem-cord-lossy",
        segment="home",
        sentence="The cable between router and modem loses packets each way.",
        effects=each(*(_plays("modem_cord_loses", cord_loss=one) for one in (0.01, 0.03, 0.08))),
        findings=("loss-before-modem",),
    ),
    Fault(
        name="modem-port-slow",
        segment="home",
        sentence="The cable between router and modem carries a part of the tier's download.",
        effects=each(*(_plays("modem_port_slow", modem_port_share=s) for s in (0.7, 0.45, 0.15))),
        findings=("held-in-home",),
    ),
    Fault(
        name="profile-up-alone",
        segment="operator",
        sentence="Only the upload is set to that of a smaller product.",
        effects=each(*map(_profile_up, (1, 2, 3))),
        findings=("other-profile", "slow-line"),
    ),
    Fault(
        name="policed-down",
        segment="operator",
        sentence="The edge drops what goes home above a part of the tier; nothing queues.",
        effects=each(*(_plays("policed_down", policed_share=share) for share in (0.7, 0.45, 0.2))),
        findings=("slow-line", "held-past-line"),
    ),
    Fault(
        name="policed-up",
        segment="operator",
        sentence="The edge drops what comes from home above a part of the tier; nothing queues.",
        effects=each(*(_plays("policed_up", policed_share=share) for share in (0.7, 0.4, 0.15))),
        findings=("slow-line", "held-past-line"),
    ),
    Fault(
        name="lossy-core-runs",
        segment="operator",
        sentence="Packets are lost in runs between the operator's edge and its core, both ways.",
        effects=each(
            *(
                _first_stretch(core_loss_up=loss, core_loss_down=loss, core_loss_run=run)
                for loss, run in ((0.015, 4.0), (0.03, 8.0), (0.08, 15.0))
            )
        ),
        findings=("loss-in-operator",),
    ),
    Fault(
        name="lossy-core-up",
        segment="operator",
        sentence="Packets are lost between edge and core on their way up alone.",
        effects=each(*(_first_stretch(core_loss_up=loss) for loss in (0.015, 0.04, 0.1))),
        findings=("loss-in-operator",),
    ),
    Fault(
        name="lossy-far-core",
        segment="operator",
        sentence="Packets are lost past the first core router, on the way to the server alone.",
        effects=each(
            *(
                _second_stretch(core_loss_up=loss, core_loss_down=loss)
                for loss in (0.01, 0.03, 0.08)
            )
        ),
        findings=("loss-in-operator",),
    ),
    Fault(
        name="detour-wavering",
        segment="operator",
        sentence="The way to the server goes a long way round, and its length wavers.",
        effects=each(
            *(
                _second_stretch(core_delay_ms=delay, core_jitter_ms=jitter)
                for delay, jitter in ((15.0, 0.5), (35.0, 1.0), (100.0, 2.0))
            )
        ),
        findings=("path-detour", "delay-high"),
    ),
    Fault(
        name="mtu-black-hole-far",
        segment="operator",
        sentence="A link behind the first core router swallows large packets and tells nobody.",
        effects=each(*map(_far_hole, (1450, 1350, 1290))),
        findings=("large-packets-vanish",),
    ),
    Fault(
        name="busy-edge-up",
        segment="operator",
        sentence="Other customers crowd the link behind the edge on the way up alone.",
        effects=each(*(_crowd(left, prepare="crowd_up_alone") for left in (0.7, 0.45, 0.2))),
        findings=("operator-congested",),
    ),
    Fault(
        name="busy-edge-restless",
        segment="operator",
        sentence="The link behind the edge is crowded and free again every second or so.",
        effects=each(*(_crowd(left, swing_s=2.0) for left in (0.3, 0.15, 0.05))),
        findings=("operator-congested", "rate-unsteady"),
    ),
    Fault(
        name="server-slow-up",
        segment="operator",
        sentence="The measuring server takes less than the tier's upload; it gives enough.",
        effects=each(*(_plays("server_port_up", server_up_share=one) for one in (0.7, 0.45, 0.2))),
        findings=("server-limits", "held-past-line"),
    ),
    Fault(
        name="server-busy",
        segment="operator",
        sentence="The measuring server is busy with others, both ways.",
        effects=each(*map(_guests, (0.7, 0.45, 0.2))),
        findings=("server-limits", "held-past-line", "operator-congested"),
    ),
    Fault(
        name="port-blocked-core",
        segment="operator",
        sentence="The operator's last core router drops what goes to the mail port.",
        effects=always(_plays("core_drops_port")),
        findings=("port-blocked",),
    ),
    Fault(
        name="ipv6-refused-core",
        segment="operator",
        sentence="IPv6 is given, and the operator's core says that no way leads on; IPv4 works.",
        effects=always(Effect(strike="ipv6_refused_in_core", home=DUAL_STACK)),
        findings=("ipv6-dead",),
    ),
)
