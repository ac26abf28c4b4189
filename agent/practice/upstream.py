"""Plays what lies past the edge: links that lose or go round, a crowd, a server's small port."""

from __future__ import annotations

import mmap
import os
from functools import partial

from agent.practice.addresses import POINT_BITS
from agent.practice.beyond import BusyEdge
from agent.practice.crowd import Crowd, send_crowd
from agent.practice.kernel import inside
from agent.practice.line import LineSpec
from agent.practice.relay import RelayPlan, Way, run_relay
from agent.practice.services import Service, mute
from agent.practice.spawn import fork_into
from agent.practice.stage import Stage
from agent.practice.topology import (
    STREET,
    STRETCH_PORTS,
    core_names,
    port_queue,
    stretches,
)
from agent.units import MS_PER_S

STREET_GATEWAY, STREET_ADDRESS = "203.0.113.5", "203.0.113.6"
"""Of the operator's prefix (RFC 5737), below what homes are given of it."""

NOBODY_READS = 40_009
"""The port to which the crowd sends; what arrives there is thrown away."""

OWN_CHANCE = 1_000_003
"""Added to the seed, so that line and core do not lose alike."""

ROOM = 1.5
"""Common practice, no source: the link behind an edge is wider than any one line of it."""

CROWD_QUEUE_MS = 200.0


def play_upstream(stage: Stage) -> None:
    """Make the operator's side do what the line's specification asks of it."""
    beyond = stage.spec.beyond
    for place, name in stretches(stage.spec).items():
        loss = beyond.core_loss if place == 0 else 0.0
        delay_ms = 0.0 if place == 0 else beyond.detour_ms / 2
        _carry(stage, name, Way(delay_s=delay_ms / MS_PER_S, loss=loss))
    if beyond.server_share is not None:
        _narrow_server(stage, beyond.server_share)
    if beyond.busy is not None:
        _crowd(stage, beyond.busy)


def _carry(stage: Stage, name: str, way: Way) -> None:
    counters, log = os.memfd_create("counters"), os.memfd_create("log")
    os.ftruncate(counters, mmap.PAGESIZE)
    plan = RelayPlan(
        ports=STRETCH_PORTS,
        up=way,
        down=way,
        seed=stage.spec.seed + OWN_CHANCE,
        whole_super_frames=not way.loss,
        counters=counters,
        log=log,
    )
    heard, ready = os.pipe()
    stage.services[name] = fork_into(stage.place(name), partial(run_relay, plan, ready))
    os.close(ready)
    os.read(heard, 1)
    os.close(heard)


def server_port_bps(spec: LineSpec, share: float) -> int:
    """Return the speed of the server's own port, bit/s of frames, the same each way."""
    return round(share * spec.down_bps)


def _narrow_server(stage: Stage, share: float) -> None:
    rate_bps = server_port_bps(stage.spec, share)
    last = core_names(stage.spec.hops)[-1]
    for host, port in (("server", "eth0"), (last, "server")):
        stage.bench.shape(host, port, rate_bps, *port_queue(rate_bps, stage.spec.queue_ms))


def _crowd(stage: Stage, busy: BusyEdge) -> None:
    """Let other customers' traffic share the link between edge and core."""
    bench, spec = stage.bench, stage.spec
    bench.address("edge", STREET, STREET_GATEWAY, POINT_BITS)
    bench.address(STREET, "eth0", STREET_ADDRESS, POINT_BITS)
    bench.route(STREET, "default", STREET_GATEWAY)
    for host, address in ((STREET, STREET_ADDRESS), ("outside", stage.addresses.outside)):
        with inside(bench.networks[host]):
            stage.silent.extend(mute(address, NOBODY_READS))
    ways = (
        ("up", ("edge", "out"), spec.up_bps, STREET, stage.addresses.outside),
        ("down", ("core", "in"), spec.down_bps, "outside", STREET_ADDRESS),
    )
    for way, port, tier_bps, sender, target in ways:
        crowd = crowd_of(spec, busy, tier_bps, way)
        rate_bps = round(crowd.link_bps)
        bench.shape(*port, rate_bps, *port_queue(rate_bps, CROWD_QUEUE_MS))
        run = partial(send_crowd, crowd, (target, NOBODY_READS))
        stage.serve(Service(name=f"crowd-{way}", host=sender, run=run))


def crowd_of(spec: LineSpec, busy: BusyEdge, tier_bps: int, way: str) -> Crowd:
    """Return one way of the crowd that leaves a share of the tier's rate."""
    link_bps = ROOM * spec.provisioned * tier_bps
    return Crowd(
        link_bps=link_bps,
        load_bps=link_bps - busy.left_share * tier_bps,
        seed=f"{spec.seed} crowd {way}",
        swing_s=busy.swing_s,
    )
