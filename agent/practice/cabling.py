"""The way between laptop and home router: what it carries, and what it does to packets.

Its figures are those of `agent.practice.home_figures`.
"""

from __future__ import annotations

import mmap
import os
from collections.abc import Mapping

from agent.practice.home_switch import beside
from agent.practice.relay import Pair, RelayPlan, Way, plain_pair, run_relay
from agent.practice.spawn import fork_into
from agent.practice.stage import Stage
from agent.practice.topology import LAPTOP_PORT, home_routers, port_queue
from agent.units import MS_PER_S

WAY = "way to the router"
BETWEEN = "adapters"
"""The host that stands between laptop and router, where frames are held up or lost."""


def lay_way(stage: Stage, figures: Mapping[str, float], pair: Pair = plain_pair) -> None:
    """Make the way to the router what the figures say; before the laptop has a lease.

    `pair` makes the two directions of the box between, where there is one. The figures are those
    of all faults together, so that the way is laid once.
    """
    if WAY in stage.laid:
        return
    stage.laid.add(WAY)
    way = _way(figures)
    if pair is not plain_pair or way != Way(delay_s=0.0):
        put_between(stage, way, pair)
    for host, port, name in ((*far_end(stage), "down"), ("laptop", LAPTOP_PORT, "up")):
        rate = figures.get(f"home_{name}_bps")
        if rate is not None:
            carry_at(stage, host, port, round(rate))


def far_end(stage: Stage) -> tuple[str, str]:
    """Return host and port at the other end of the laptop's cable."""
    return ("router", "lan") if home_routers(stage.spec) else ("modem", "home")


def _way(figures: Mapping[str, float]) -> Way:
    return Way(
        delay_s=figures.get("home_delay_ms", 0.0) / MS_PER_S,
        jitter_s=figures.get("home_jitter_ms", 0.0) / MS_PER_S,
        loss=figures.get("home_loss", 0.0),
        burst=figures.get("home_loss_run", 1.0),
    )


def carry_at(stage: Stage, host: str, port: str, rate_bps: int) -> None:
    """Let frames leave a port of the home at a rate; its queue is as deep as the line's."""
    stage.bench.shape(host, port, rate_bps, *port_queue(rate_bps, stage.spec.queue_ms))


def put_between(stage: Stage, way: Way, pair: Pair) -> None:
    """Put a box between laptop and router that does the same to packets each way.

    Where it tells packets apart, both ends send them one by one.
    """
    bench = stage.bench
    hardware_address = bench.hardware_address("laptop", LAPTOP_PORT)
    bench.add_host(BETWEEN)
    bench.switch(BETWEEN, "net.ipv6.conf.all.disable_ipv6", 1)
    bench.move("laptop", LAPTOP_PORT, BETWEEN, "router")
    bench.set_hardware_address(BETWEEN, "router", beside(hardware_address))
    bench.cable("laptop", LAPTOP_PORT, BETWEEN, "laptop")
    bench.set_hardware_address("laptop", LAPTOP_PORT, hardware_address.hex(":"))
    one_by_one = pair is not plain_pair or bool(way.loss) or stage.spec.frame_by_frame
    if one_by_one:
        bench.offloads_off("laptop", LAPTOP_PORT)
        bench.offloads_off(*far_end(stage))
    counters, log = os.memfd_create("counters"), os.memfd_create("log")
    os.ftruncate(counters, mmap.PAGESIZE)
    plan = RelayPlan(
        ports=("laptop", "router"),
        up=way,
        down=way,
        seed=stage.spec.seed,
        whole_super_frames=not one_by_one,
        counters=counters,
        log=log,
    )
    heard, ready = os.pipe()
    body = lambda: run_relay(plan, ready, pair)  # noqa: E731 - forked at once
    stage.services[BETWEEN] = fork_into(stage.place(BETWEEN), body)
    os.close(ready)
    os.read(heard, 1)
    os.close(heard)
