"""The faults of the access line and the modem, of what the operator sold it as, and of its ends."""

from __future__ import annotations

from agent.practice.fault import DHCP, GIVES_WAY, RESOLVER, SERVER, Effect, Fault, always, each

SECOND_LOWEST_BPS = 50_000_000
"""Of the catalogue's wired products; below the lowest there is none to be mixed up with."""

NOISE_MS = (3.0, 6.0, 12.0)
"""Means for one packet alone; since none overtakes another, packets close together wait for the
slowest among them, and a series of probes varies by some five times as much."""

LOSS_NEAR = ("loss-past-modem", "loss-before-first-hop")


def _queue(buffer_ms: float) -> Effect:
    return Effect(line={"buffer_ms": buffer_ms, "congestion": GIVES_WAY})


def _product(steps: int, prepare: str | None = None) -> Effect:
    return Effect(profile_steps=steps, prepare=prepare, least_down_bps=SECOND_LOWEST_BPS)


FAULTS: tuple[Fault, ...] = (
    Fault(
        name="slow-line",
        segment="access",
        sentence="The access line carries only a part of the tier, both ways.",
        effects=each(Effect(tier_share=0.7), Effect(tier_share=0.5), Effect(tier_share=0.3)),
        findings=("slow-line",),
    ),
    Fault(
        name="slow-up",
        segment="access",
        sentence="The access line carries only a part of the tier's upload; the download is whole.",
        effects=each(Effect(up_share=0.6), Effect(up_share=0.4), Effect(up_share=0.2)),
        findings=("slow-line", "other-profile"),
    ),
    Fault(
        name="wrong-profile",
        segment="operator",
        sentence="The line is set to a smaller product of the catalogue than was sold.",
        effects=each(*map(_product, (1, 2, 3))),
        findings=("other-profile",),
    ),
    Fault(
        name="swapped-drop-slow",
        segment="access",
        sentence="The drop leads to another service, of a smaller product and another pool.",
        effects=each(*(_product(steps, "swapped_drop") for steps in (1, 2, 3))),
        findings=("address-of-another-pool",),
    ),
    Fault(
        name="lossy-line",
        segment="access",
        sentence="The access line loses packets, both ways alike.",
        effects=each(Effect(loss=0.005), Effect(loss=0.02), Effect(loss=0.05)),
        findings=LOSS_NEAR,
    ),
    Fault(
        name="lossy-up",
        segment="access",
        sentence="The access line loses packets on their way up; the way down is sound.",
        effects=each(*(Effect(line={"loss_up": loss}) for loss in (0.005, 0.02, 0.05))),
        findings=LOSS_NEAR,
    ),
    Fault(
        name="lossy-runs",
        segment="access",
        sentence="The access line loses packets in runs, both ways, as noise in bursts does.",
        effects=each(
            Effect(loss=0.01, line={"burst": 3.0}),
            Effect(loss=0.02, line={"burst": 5.0}),
            Effect(loss=0.05, line={"burst": 8.0}),
        ),
        findings=LOSS_NEAR,
    ),
    Fault(
        name="line-drops",
        segment="access",
        sentence="The line goes dark again and again, as behind a modem that loses its lock.",
        effects=each(
            Effect(line={"dark_s": 0.5, "dark_every_s": 3.0}),
            Effect(line={"dark_s": 1.5, "dark_every_s": 4.0}),
            Effect(line={"dark_s": 4.0, "dark_every_s": 4.0}),
        ),
        findings=("line-drops",),
    ),
    Fault(
        name="noisy-line",
        segment="access",
        sentence="The line delays every packet by another time, as one that repeats itself does.",
        effects=each(*(Effect(line={"jitter_ms": ms}) for ms in NOISE_MS)),
        findings=("delay-varies",),
    ),
    Fault(
        name="deep-buffer",
        segment="none",
        sentence="The queue in front of the line is so deep that all else waits behind transfers.",
        effects=each(*map(_queue, (450.0, 900.0, 2000.0))),
        findings=("delay-rises-under-load",),
    ),
    Fault(
        name="modem-dead",
        segment="modem",
        sentence="The modem keeps its ports up, passes nothing and does not answer.",
        effects=always(Effect(strike="modem_dead")),
        findings=("modem-silent",),
    ),
    Fault(
        name="no-lease",
        segment="home",
        sentence="The home router hands out no addresses.",
        effects=always(Effect(silent=frozenset({DHCP}))),
        findings=("no-lease",),
    ),
    Fault(
        name="dead-dns",
        segment="operator",
        sentence="The operator's resolver does not answer.",
        effects=always(Effect(silent=frozenset({RESOLVER}))),
        findings=("dns-silent",),
    ),
    Fault(
        name="gateway-dead",
        segment="home",
        sentence="The home router stops answering after it has given a lease; its ports stay up.",
        effects=always(Effect(strike="gateway_dead")),
        findings=("gateway-silent",),
    ),
    Fault(
        name="server-down",
        segment="operator",
        sentence="The operator's measuring server is not running.",
        effects=always(Effect(silent=frozenset({SERVER}))),
        findings=("server-silent",),
    ),
)
