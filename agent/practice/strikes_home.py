"""What goes wrong in the home between laptop and modem, as it is played on the built network."""

from __future__ import annotations

import random
import time
from functools import partial

from agent.practice.addresses import LAN_BITS
from agent.practice.cabling import carry_at, lay_way
from agent.practice.collisions import Mismatch
from agent.practice.faults import played_figures
from agent.practice.home_switch import GUEST_PORT, SWITCH, put_switch
from agent.practice.household import PORT, Traffic, serve_traffic
from agent.practice.services import Service
from agent.practice.stage import Stage

DEVICE = "device"
DEVICE_HOST = 250
"""Above every pool that the home router gives addresses from."""

LAPTOP_SIDE = "laptop"
WHOLE_AT_FIRST_S = 5.0
"""A visit begins on a port that is up: one that finds it down says no more than that."""

UNEVEN = 0.4
"""A port that flaps stays up so much longer or shorter, drawn by the seed."""


def way_to_router(stage: Stage) -> None:
    """Let the way between laptop and router carry, delay and lose what the fault says."""
    lay_way(stage, played_figures(stage.spec))


def duplex_mismatch(stage: Stage) -> None:
    """Let the router's port listen before it sends, and the laptop's not."""
    figures = played_figures(stage.spec)
    pair = Mismatch(share=figures["collision_share"], speed_bps=figures["home_port_bps"])
    lay_way(stage, figures, pair)


def router_limits(stage: Stage) -> None:
    """Let the router at the laptop carry no more than a share of the tier."""
    share = played_figures(stage.spec)["router_share"]
    carry_at(stage, "router", "lan", round(stage.spec.down_bps * share))
    carry_at(stage, "router", "wan", round(stage.spec.up_bps * share))


def another_device(stage: Stage) -> None:
    """Put a device of the household beside the laptop."""
    put_switch(stage, DEVICE)
    lan = stage.addresses.lan.rpartition(".")[0]
    stage.bench.address(DEVICE, GUEST_PORT, f"{lan}.{DEVICE_HOST}", LAN_BITS)
    stage.bench.route(DEVICE, "default", stage.addresses.router)


def busy_down(stage: Stage) -> None:
    """Let the device take a share of the line towards the home."""
    _keep_busy(stage, stage.spec.shaped_down_bps, down=True)


def busy_up(stage: Stage) -> None:
    """Let the device take a share of the line from the home."""
    _keep_busy(stage, stage.spec.shaped_up_bps, down=False)


def _keep_busy(stage: Stage, line_bps: int, *, down: bool) -> None:
    figures, outside = played_figures(stage.spec), stage.addresses.outside
    traffic = Traffic(
        outside=outside,
        down=down,
        rate_bps=line_bps * figures["household_share"],
        flows=round(figures["household_flows"]),
        seed=stage.spec.seed,
    )
    serve = partial(serve_traffic, outside)
    stage.serve(Service(name="films", host="outside", run=serve, listens=(outside, PORT)))
    stage.serve(Service(name=DEVICE, host=DEVICE, run=traffic.run))


def loose_plug(stage: Stage) -> None:
    """Put a switch before the router, which keeps all that it has when the link goes."""
    put_switch(stage)


def port_flaps(stage: Stage) -> None:
    """Let the link of the laptop's port go and come again and again."""
    figures = played_figures(stage.spec)
    times = (figures["port_gone_s"], figures["port_whole_s"])
    run = partial(flap, LAPTOP_SIDE, *times, f"{stage.spec.seed} flaps")
    stage.serve(Service(name="flaps", host=SWITCH, run=run))


def flap(port: str, gone_s: float, whole_s: float, seed: str) -> None:
    """Take a port of this host down for so long, again and again, until the process ends.

    The far end may stay without a way for longer: Linux looks at its links once a second.
    """
    from pyroute2 import IPRoute  # noqa: PLC0415 - costs 0.3 s; only the supervisor pays

    draw = random.Random(seed)
    with IPRoute() as netlink:
        index = netlink.link_lookup(ifname=port)[0]
        time.sleep(WHOLE_AT_FIRST_S)
        while True:
            netlink.link("set", index=index, state="down")
            time.sleep(gone_s)
            netlink.link("set", index=index, state="up")
            time.sleep(whole_s * draw.uniform(1 - UNEVEN, 1 + UNEVEN))


STRIKES = (
    way_to_router,
    duplex_mismatch,
    router_limits,
    another_device,
    busy_down,
    busy_up,
    loose_plug,
    port_flaps,
)
