"""A switch in the home: other devices stand beside the laptop on the router's network."""

from __future__ import annotations

from agent.errors import PracticeBroken
from agent.practice.stage import Stage
from agent.practice.topology import LAPTOP_PORT

SWITCH = "switch"
GUEST_PORT = "eth0"


def put_switch(stage: Stage, *guests: str) -> None:
    """Put a switch between laptop and router, with guests on it; before the laptop has a lease.

    The router keeps its port, so that the services on it go on; the laptop gets a new cable.
    Raises PracticeBroken where a fault has put one there already.
    """
    if SWITCH in stage.laid:
        raise PracticeBroken(problem="two of these faults want a switch of their own in the home")
    stage.laid.add(SWITCH)
    bench = stage.bench
    hardware_address = bench.hardware_address("laptop", LAPTOP_PORT)
    for name in (SWITCH, *guests):
        bench.add_host(name)
        for whose in ("all", "default"):
            bench.switch(name, f"net.ipv6.conf.{whose}.disable_ipv6", 1)
    bench.move("laptop", LAPTOP_PORT, SWITCH, "router")
    # A bridge keeps what goes to an address of its own ports, and this one was the laptop's.
    bench.set_hardware_address(SWITCH, "router", beside(hardware_address))
    bench.cable("laptop", LAPTOP_PORT, SWITCH, "laptop")
    bench.set_hardware_address("laptop", LAPTOP_PORT, hardware_address.hex(":"))
    for guest in guests:
        bench.cable(guest, GUEST_PORT, SWITCH, guest)
    bench.bridge(SWITCH, "bridge", ("router", "laptop", *guests))


def beside(hardware_address: bytes) -> str:
    """Return a hardware address next to another, written with colons."""
    return bytes((*hardware_address[:5], hardware_address[5] ^ 1)).hex(":")
