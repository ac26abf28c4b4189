"""What further faults of line, modem and operator do to the built network, by their figures."""

from __future__ import annotations

import mmap
import os
from functools import partial

from agent.practice.crowd import Crowd, send_crowd
from agent.practice.faults import played_figures
from agent.practice.filtering import strike_packets, strike_table
from agent.practice.kernel import inside
from agent.practice.modem import HOME_PORT
from agent.practice.open_ports import MAIL_PORT
from agent.practice.products import lower
from agent.practice.relay import RelayPlan, Way, run_relay
from agent.practice.services import Service, mute
from agent.practice.spawn import fork_into
from agent.practice.stage import Stage
from agent.practice.topology import (
    STRETCH_PORTS,
    core_names,
    home_routers,
    port_queue,
)
from agent.practice.upstream import CROWD_QUEUE_MS, NOBODY_READS, OWN_CHANCE, ROOM
from agent.units import MS_PER_S

PARTS = 10_000
"""Chances are drawn in so many parts, as nft(8) draws whole numbers."""

LONG_OCTETS = 900
"""Longer than any probe of a series or answer to one, shorter than a full packet."""

POLICER_OCTETS = 128_000
"""What a policer lets through at once; common practice, no source: some ten milliseconds."""


def chance(share: float) -> str:
    """Return what matches a share of packets at random (nft(8))."""
    return f"numgen random mod {PARTS} < {round(share * PARTS)}"


def chain(hook: str, *rules: str) -> str:
    """Return a chain at a hook, of rules as nft(8) writes them."""
    text = " ".join(f"{rule};" for rule in rules)
    return f"chain {hook} {{ type filter hook {hook} priority filter; {text} }}\n"


def line_loses_long(stage: Stage) -> None:
    """Let the line's end at the modem lose a share of the long packets, and no short one."""
    share = played_figures(stage.spec)["long_loss"]
    _whole_frames(stage)
    rule = f"ether type ip meta length > {LONG_OCTETS} {chance(share)} drop"
    strike_table(stage, "modem", f"table bridge struck {{\n{chain('forward', rule)}}}\n")


def modem_passes_nothing_up(stage: Stage) -> None:
    """Let the modem take what comes down the line and send nothing up; its port at home is well."""
    rule = f'iifname "{HOME_PORT}" drop'
    strike_table(stage, "modem", f"table bridge struck {{\n{chain('forward', rule)}}}\n")


def modem_cord_loses(stage: Stage) -> None:
    """Let the cable between router and modem lose a share of its packets each way."""
    share = played_figures(stage.spec)["cord_loss"]
    _whole_frames(stage)
    taken = f'iifname "{HOME_PORT}" ether type ip {chance(share)} drop'
    given = f'oifname "{HOME_PORT}" ether type ip {chance(share)} drop'
    chains = chain("prerouting", taken) + chain("postrouting", given)
    strike_table(stage, "modem", f"table bridge struck {{\n{chains}}}\n")


def modem_port_slow(stage: Stage) -> None:
    """Let the cable between router and modem carry a share of the tier's download each way."""
    rate_bps = round(stage.spec.down_bps * played_figures(stage.spec)["modem_port_share"])
    for host, port in ((home_routers(stage.spec)[-1], "wan"), ("modem", HOME_PORT)):
        _carry(stage, host, port, rate_bps)


def queue_up(stage: Stage) -> None:
    """Make the queue before the line as deep as ordered on the way up alone."""
    _queue(stage, "modem", stage.spec.shaped_up_bps)


def queue_down(stage: Stage) -> None:
    """Make the queue before the line as deep as ordered on the way down alone."""
    _queue(stage, "edge", stage.spec.shaped_down_bps)


def _queue(stage: Stage, host: str, rate_bps: int) -> None:
    depth_ms = played_figures(stage.spec)["one_queue_ms"]
    stage.bench.shape(host, "line", rate_bps, *port_queue(rate_bps, depth_ms))


def profile_up(stage: Stage) -> None:
    """Set the upload alone to that of a smaller product, as the catalogue provisions it."""
    steps = round(played_figures(stage.spec)["profile_steps_up"])
    product = lower(stage.spec.products, steps)
    if product is not None:
        _carry(stage, "modem", "line", product.up_bps)


def policed_down(stage: Stage) -> None:
    """Let the edge drop what goes home above a share of the tier, and hold nothing back."""
    stage.bench.offloads_off("core", "in")
    _police(stage, 'oifname "line"', stage.spec.down_bps)


def policed_up(stage: Stage) -> None:
    """Let the edge drop what comes from home above a share of the tier, and hold nothing back."""
    stage.bench.offloads_off("modem", "line")
    _police(stage, 'iifname "line"', stage.spec.up_bps)


def _police(stage: Stage, where: str, tier_bps: int) -> None:
    octets_s = round(tier_bps * played_figures(stage.spec)["policed_share"] / 8)
    limit = f"limit rate over {octets_s} bytes/second burst {POLICER_OCTETS} bytes drop"
    strike_packets(stage, "edge", "forward", f"{where} {limit}")


def core_first_stretch(stage: Stage) -> None:
    """Let the link behind the edge do what the figures say, each way for itself."""
    _stretch(stage, 0, ("edge", "core"))


def core_second_stretch(stage: Stage) -> None:
    """Let the link behind the first core router do so; what is outside lies before it."""
    _stretch(stage, 1, ("core", "core1"))


def _stretch(stage: Stage, place: int, ends: tuple[str, str]) -> None:
    """Put another carrier in place of the one that the order of the line put on a link."""
    name, figures = f"stretch{place}", played_figures(stage.spec)
    stage.stop(name)
    for host, port in zip(ends, ("out", "in"), strict=True):
        stage.bench.offloads_off(host, port)
    up, down = (
        Way(
            delay_s=figures.get("core_delay_ms", 0.0) / MS_PER_S,
            jitter_s=figures.get("core_jitter_ms", 0.0) / MS_PER_S,
            loss=figures.get(f"core_loss_{way}", 0.0),
            burst=figures.get("core_loss_run", 1.0),
        )
        for way in ("up", "down")
    )
    counters, log = os.memfd_create("counters"), os.memfd_create("log")
    os.ftruncate(counters, mmap.PAGESIZE)
    plan = RelayPlan(
        ports=STRETCH_PORTS,
        up=up,
        down=down,
        seed=stage.spec.seed + OWN_CHANCE,
        whole_super_frames=False,
        counters=counters,
        log=log,
    )
    heard, ready = os.pipe()
    stage.services[name] = fork_into(stage.place(name), partial(run_relay, plan, ready))
    os.close(ready)
    os.read(heard, 1)
    os.close(heard)


def crowd_up_alone(stage: Stage) -> None:
    """Let the crowd behind the edge send alone: nothing comes down for it."""
    stage.stop("crowd-down")


def server_port_up(stage: Stage) -> None:
    """Let the server's port take less than the tier's upload; what it gives is not held."""
    share = played_figures(stage.spec)["server_up_share"]
    _carry(stage, core_names(stage.spec.hops)[-1], "server", round(stage.spec.up_bps * share))


def server_busy(stage: Stage) -> None:
    """Let others fetch from the server and give to it through the port that it has."""
    spec, bench = stage.spec, stage.bench
    left = played_figures(spec)["server_left_share"]
    outside, server = stage.addresses.outside, stage.addresses.server
    for host, address in (("outside", outside), ("server", server)):
        with inside(bench.networks[host]):
            stage.silent.extend(mute(address, NOBODY_READS))
    last = core_names(spec.hops)[-1]
    ways = (
        ("fetch", ("server", "eth0"), spec.down_bps, "server", outside),
        ("give", (last, "server"), spec.up_bps, "outside", server),
    )
    for way, port, tier_bps, sender, target in ways:
        link_bps = ROOM * spec.provisioned * tier_bps
        bench.shape(*port, round(link_bps), *port_queue(round(link_bps), CROWD_QUEUE_MS))
        crowd = Crowd(
            link_bps=link_bps,
            load_bps=link_bps - left * tier_bps,
            seed=f"{spec.seed} guests {way}",
        )
        run = partial(send_crowd, crowd, (target, NOBODY_READS), own_port=sender == "server")
        stage.serve(Service(name=f"guests-{way}", host=sender, run=run))


def core_drops_port(stage: Stage) -> None:
    """Let the last core router pass nothing to the mail port."""
    last = core_names(stage.spec.hops)[-1]
    strike_packets(stage, last, "forward", f"tcp dport {MAIL_PORT} drop")


def ipv6_refused_in_core(stage: Stage) -> None:
    """Let the first core router say of everything over IPv6 that no way leads there."""
    rule = "meta nfproto ipv6 reject with icmpv6 type no-route"
    strike_packets(stage, "core", "forward", rule)


def _whole_frames(stage: Stage) -> None:
    """Let what passes the modem be single packets, since a chance is drawn for each of them."""
    nearest = (home_routers(stage.spec)[-1], "wan")
    for host, port in (nearest, ("edge", "line"), ("modem", "line"), ("modem", HOME_PORT)):
        stage.bench.offloads_off(host, port)


def _carry(stage: Stage, host: str, port: str, rate_bps: int) -> None:
    stage.bench.shape(host, port, rate_bps, *port_queue(rate_bps, stage.spec.queue_ms))


STRIKES = (
    line_loses_long,
    modem_passes_nothing_up,
    modem_cord_loses,
    modem_port_slow,
    queue_up,
    queue_down,
    profile_up,
    policed_down,
    policed_up,
    core_first_stretch,
    core_second_stretch,
    crowd_up_alone,
    server_port_up,
    server_busy,
    core_drops_port,
    ipv6_refused_in_core,
)
