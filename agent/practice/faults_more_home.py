"""Further faults of home, laptop, names and sites, and good lines on which something is odd."""

from __future__ import annotations

from agent.practice.fault import Effect, Fault, always, each
from agent.practice.home_figures import port_figures
from agent.practice.homes import DOUBLE_ROUTER, DUAL_STACK, PLAIN, STATIC
from agent.practice.path import NarrowLink, PathSpec

TEN = 10_000_000
"""bit/s (IEEE 802.3 clause 14)."""

BARELY = 1e-6
"""So little is lost that nothing is; it makes the way one on which packets are told apart."""

CORE_ROUTERS = 3
AROUND = 2


def _plays(strike: str, home: str | None = None, **figures: float) -> Effect:
    return Effect(strike=strike, home=home, plays=figures)


def _hands_out(prepare: str, **figures: float) -> Effect:
    return Effect(prepare=prepare, plays=figures)


def _way(**figures: float) -> Effect:
    return Effect(prepare="way_to_router", plays=figures)


def _radio(down_bps: int, up_bps: int, jitter_ms: float, loss: float) -> Effect:
    plays = {
        "home_down_bps": down_bps,
        "home_up_bps": up_bps,
        "home_jitter_ms": jitter_ms,
        "home_loss": loss,
        "home_loss_run": 6.0,
    }
    return Effect(prepare="way_to_router", tells={"medium": "wireless"}, plays=plays)


def _device(strike: str, **figures: float) -> Effect:
    return Effect(prepare="another_device", strike=strike, plays=figures)


def _turns(strike: str, octets: int, pause_s: float, flows: int) -> Effect:
    return _device(strike, turn_octets=octets, turn_pause_s=pause_s, household_flows=flows)


def _silent(*distances: int) -> Effect:
    return Effect(line={"hops": CORE_ROUTERS, "path": PathSpec(silent=distances)})


def _told(mtu_bytes: int) -> Effect:
    return Effect(line={"path": PathSpec(narrow=NarrowLink(at=3, mtu_bytes=mtu_bytes))}, home=PLAIN)


FAULTS: tuple[Fault, ...] = (
    Fault(
        name="worn-cable",
        segment="home",
        sentence="The cable between laptop and router loses packets, busy or not.",
        effects=each(*(_way(home_loss=loss) for loss in (0.01, 0.03, 0.08))),
        findings=("loss-at-gateway",),
    ),
    Fault(
        name="cable-loses-long",
        segment="home",
        sentence="The cable between laptop and router loses long packets alone.",
        effects=each(*(_plays("cable_loses_long", home_long_loss=s) for s in (0.05, 0.15, 0.35))),
        findings=("long-frames-lost", "cable-loses-when-busy", "loss-at-gateway"),
    ),
    Fault(
        name="slow-half-port",
        segment="home",
        sentence="The laptop's port came up at 10 Mbit/s and half duplex.",
        effects=always(
            Effect(
                prepare="way_to_router",
                tells={"speed_bps": TEN, "duplex": "half"},
                plays=port_figures(TEN),
            )
        ),
        findings=("port-below-tier", "half-duplex"),
    ),
    Fault(
        name="wifi-weak-up",
        segment="home",
        sentence="The laptop's Wi-Fi is heard poorly by the router: slow up, losses in runs.",
        effects=each(
            _radio(80_000_000, 12_000_000, 1.0, 0.004),
            _radio(60_000_000, 5_000_000, 3.0, 0.015),
            _radio(40_000_000, 1_500_000, 8.0, 0.05),
        ),
        findings=("laptop-on-wireless",),
    ),
    Fault(
        name="mesh-between",
        segment="home",
        sentence="Another box between laptop and router delays all, now more and now less.",
        effects=each(
            _way(home_delay_ms=1.5, home_jitter_ms=1.0, home_loss=BARELY),
            _way(home_delay_ms=3.0, home_jitter_ms=2.0, home_loss=BARELY),
            _way(home_delay_ms=6.0, home_jitter_ms=4.0, home_loss=BARELY),
        ),
        findings=("hidden-hop",),
    ),
    Fault(
        name="slow-router-up",
        segment="home",
        sentence="The home router sends no more than a part of the tier's upload.",
        effects=each(*(_plays("router_limits_up", router_up_share=s) for s in (0.7, 0.4, 0.15))),
        findings=("held-in-home",),
    ),
    Fault(
        name="slow-router-down",
        segment="home",
        sentence="The home router hands on no more than a part of the tier's download.",
        effects=each(
            *(_plays("router_limits_down", router_down_share=s) for s in (0.75, 0.5, 0.25))
        ),
        findings=("held-in-home",),
    ),
    Fault(
        name="slow-outer-router",
        segment="home",
        sentence="The outer one of two routers in the home carries a part of the tier.",
        effects=each(
            *(
                _plays("outer_router_limits", DOUBLE_ROUTER, outer_router_share=share)
                for share in (0.65, 0.4, 0.2)
            )
        ),
        findings=("held-in-home",),
    ),
    Fault(
        name="household-pages",
        segment="home",
        sentence="Other devices of the home fetch many short pages all the while.",
        effects=each(
            _turns("turns_down", 400_000, 0.2, 4),
            _turns("turns_down", 700_000, 0.15, 8),
            _turns("turns_down", 1_000_000, 0.05, 16),
        ),
        findings=("household-traffic",),
    ),
    Fault(
        name="household-backup",
        segment="home",
        sentence="Another device of the home sends a backup that comes again and again.",
        effects=each(
            _turns("turns_up", 2_500_000, 3.0, 2),
            _turns("turns_up", 2_500_000, 2.0, 4),
            _turns("turns_up", 4_000_000, 1.0, 6),
        ),
        findings=("household-traffic", "rate-unsteady"),
    ),
    Fault(
        name="household-camera",
        segment="home",
        sentence="Another device of the home sends an even stream that gives way to nobody.",
        effects=each(*(_device("camera", camera_share=share) for share in (0.3, 0.55, 0.85))),
        findings=("household-traffic",),
    ),
    Fault(
        name="udp-blocked-home",
        segment="home",
        sentence="The home router drops UDP to one port of the operator's server.",
        effects=always(_plays("home_drops_udp")),
        findings=("port-blocked",),
    ),
    Fault(
        name="ipv6-large-lost-home",
        segment="home",
        sentence="The home router drops large packets of IPv6 without a word.",
        effects=each(
            *(
                _plays("home_loses_large_ipv6", DUAL_STACK, ipv6_mtu_bytes=mtu)
                for mtu in (1450, 1350, 1290)
            )
        ),
        findings=("ipv6-large-packets-vanish",),
    ),
    Fault(
        name="small-windows",
        segment="laptop",
        sentence="The laptop's system keeps next to nothing for a connection.",
        effects=each(*(_plays("small_windows", window_octets=n) for n in (24_576, 16_384, 8_192))),
        findings=("window-limits", "laptop-limits"),
    ),
    Fault(
        name="laptop-downloads",
        segment="laptop",
        sentence="Another program of the laptop fetches a part of the line all the while.",
        effects=each(
            *(_plays("laptop_downloads", laptop_download_share=s) for s in (0.3, 0.45, 0.7))
        ),
        findings=("laptop-has-other-traffic", "other-traffic-limits"),
    ),
    Fault(
        name="wrong-resolver-typed",
        segment="laptop",
        sentence="A resolver that does not exist was typed into the laptop.",
        effects=always(_plays("wrong_resolver_typed", STATIC)),
        findings=("dns-silent",),
    ),
    Fault(
        name="wrong-gateway-typed",
        segment="laptop",
        sentence="A gateway that does not exist was typed into the laptop.",
        effects=always(_plays("wrong_gateway_typed", STATIC)),
        findings=("gateway-silent",),
    ),
    Fault(
        name="slow-first-dns",
        segment="operator",
        sentence="The first of two resolvers that the lease names answers late.",
        effects=each(
            *(_hands_out("first_resolver_slow", first_resolver_ms=ms) for ms in (200, 500, 1500))
        ),
        findings=("dns-slow",),
    ),
    Fault(
        name="failing-first-dns",
        segment="operator",
        sentence="The first of two resolvers that the lease names fails at every name.",
        effects=always(_hands_out("first_resolver_fails")),
        findings=("dns-failing",),
    ),
    Fault(
        name="dead-second-dns",
        segment="operator",
        sentence="The second of two resolvers that the lease names does not answer.",
        effects=always(_hands_out("second_resolver_dead")),
        findings=("dns-partly-silent",),
    ),
    Fault(
        name="forgetful-dns",
        segment="operator",
        sentence="The operator's resolver leaves a share of all questions unanswered.",
        effects=each(*(_hands_out("resolver_drops", resolver_drops=s) for s in (0.12, 0.3, 0.6))),
        findings=("dns-often-silent",),
    ),
    Fault(
        name="other-site-refuses",
        segment="beyond",
        sentence="Another outside site refuses every connection.",
        effects=always(_plays("other_site_refuses")),
        findings=("site-unreached",),
    ),
    Fault(
        name="other-site-slow",
        segment="beyond",
        sentence="Another outside site answers only after seconds.",
        effects=each(*(_plays("other_site_thinks", site_after_s=s) for s in (3.3, 4.0, 4.6))),
        findings=("web-slow",),
    ),
    Fault(
        name="certificate-not-yet",
        segment="beyond",
        sentence="The certificate of one site begins only the day after tomorrow.",
        effects=always(_plays("certificate_not_yet")),
        findings=("certificate-problem",),
    ),
    Fault(
        name="gateway-late-to-echo",
        segment="none",
        sentence="A good line whose home router answers echo late and forwards at once.",
        effects=each(*(_plays("gateway_answers_late", answers_late_ms=n) for n in (4, 8, 20))),
    ),
    Fault(
        name="edge-late-to-echo",
        segment="none",
        sentence="A good line whose operator's edge answers echo late and forwards at once.",
        effects=each(*(_plays("edge_answers_late", answers_late_ms=n) for n in (8, 25, 60))),
    ),
    Fault(
        name="gateway-limits-echo",
        segment="none",
        sentence="A good line whose home router answers only so many echoes a second.",
        effects=each(
            *(_plays("gateway_limits_answers", gateway_answers_per_s=n) for n in (50, 25, 5))
        ),
    ),
    Fault(
        name="edge-forgets-echo",
        segment="none",
        sentence="A good line whose operator's edge leaves some echoes to itself unanswered.",
        effects=each(*(_plays("edge_loses_answers", edge_unanswered=s) for s in (0.03, 0.2, 0.6))),
    ),
    Fault(
        name="silent-hops",
        segment="none",
        sentence="A good line on which routers never say that a hop limit ran out.",
        effects=each(_silent(2), _silent(2, 3, 4), _silent(1, 2, 3, 4)),
    ),
    Fault(
        name="slight-noise",
        segment="none",
        sentence="A good line whose delay varies a little, within what is accepted.",
        effects=each(*(Effect(line={"jitter_ms": ms}) for ms in (0.3, 0.7, 1.3))),
    ),
    Fault(
        name="household-reading",
        segment="none",
        sentence="Another device of the home fetches a small page now and then.",
        effects=each(
            _turns("turns_down", 30_000, 2.0, 1),
            _turns("turns_down", 60_000, 1.5, 1),
            _turns("turns_down", 100_000, 1.5, 1),
        ),
    ),
    Fault(
        name="other-way-back",
        segment="none",
        sentence="A good line on which what comes home passes another router, equally far.",
        effects=always(Effect(prepare="other_way_back", line={"hops": AROUND}, home=PLAIN)),
    ),
    Fault(
        name="short-lease",
        segment="none",
        sentence="A good line whose home router gives addresses for a short time.",
        effects=each(*(_hands_out("short_lease", lease_s=n) for n in (1800, 600, 120))),
    ),
    Fault(
        name="narrow-and-told",
        segment="none",
        sentence="A good line with a link that takes smaller packets and says so.",
        effects=each(*map(_told, (1492, 1480, 1440))),
    ),
)
