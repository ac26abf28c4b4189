"""What makes the practice laptop unfit to judge, by what its own system then really shows."""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from pathlib import Path

from agent.errors import PracticeBroken
from agent.practice.faults import played_figures
from agent.practice.kernel import MS_BIND, inside, mount
from agent.practice.services import Service, mute
from agent.practice.spawn import fork_into
from agent.practice.stage import Stage
from agent.practice.starving import Starving
from agent.practice.time_server import time_service
from agent.practice.topology import LAPTOP_PORT

ALL_OF_IPV4 = ("0.0.0.0/1", "128.0.0.0/1")
"""Two halves are nearer than any default route: that is how tunnels put themselves before it."""

TUNNEL_NET = "198.18.255"
SECOND_NET = "198.19.255"
TUNNEL_NUMBER = 7
TUNNEL_PORT = 4789
"""UDP port of VXLAN (RFC 7348 §5)."""

DISCARD = 9
DATAGRAM = 1_000
AT_ONCE = 5

SUPPLIES = "/sys/class/power_supply"
PLATFORM = "/sys/firmware/acpi"
MEMORY = "/proc/meminfo"
SMALL_BUFFERS = "4096 65536 131072"
"""Least, first and most octets of a TCP buffer (tcp(7)): an old system's."""


def tunnel(stage: Stage) -> None:
    """Send all that has no port of its own through a tunnel that ends at the router."""
    bench, addresses = stage.bench, stage.addresses
    laptop = bench.addresses_4("laptop", LAPTOP_PORT)[0]
    for host, own, far in (
        ("laptop", laptop, addresses.router),
        ("router", addresses.router, laptop),
    ):
        port = LAPTOP_PORT if host == "laptop" else "lan"
        bench.tunnel(
            host, "tunnel", port, own=own, far=far, number=TUNNEL_NUMBER, udp_port=TUNNEL_PORT
        )
    bench.address("router", "tunnel", f"{TUNNEL_NET}.1", 24)
    bench.address("laptop", "tunnel", f"{TUNNEL_NET}.2", 24)
    for half in ALL_OF_IPV4:
        bench.route("laptop", half, f"{TUNNEL_NET}.1")


def second_line(stage: Stage) -> None:
    """Give the laptop another network that is nearer to all of the world."""
    bench = stage.bench
    bench.add_host("neighbour")
    bench.cable("laptop", "eth1", "neighbour", "eth0")
    bench.address("neighbour", "eth0", f"{SECOND_NET}.1", 24)
    bench.address("laptop", "eth1", f"{SECOND_NET}.2", 24)
    for half in ALL_OF_IPV4:
        bench.route("laptop", half, f"{SECOND_NET}.1")


def laptop_traffic(stage: Stage) -> None:
    """Let another program of the laptop send to the router all the while."""
    router, rate_bps = stage.addresses.router, played_figures(stage.spec)["laptop_traffic_bps"]
    with inside(stage.bench.networks["router"]):
        stage.silent.extend(mute(router, DISCARD))
    stage.serve(Service(name="traffic", host="laptop", run=partial(send_on, router, rate_bps)))


def send_on(address: str, rate_bps: float) -> None:
    """Send datagrams at a rate of their payload until the process ends."""
    pause_s = AT_ONCE * DATAGRAM * 8 / rate_bps
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.connect((address, DISCARD))
        while True:
            for _ in range(AT_ONCE):
                sock.send(bytes(DATAGRAM))
            time.sleep(pause_s)


def battery_saver(stage: Stage) -> None:
    """Show the laptop a battery that is drained, no mains, and a profile that saves power."""
    _show(stage, _battery)


def _battery() -> None:
    supplies = Path(_blank(SUPPLIES))
    _files(supplies / "AC", {"type": "Mains", "online": "0"})
    _files(supplies / "BAT0", {"type": "Battery", "status": "Discharging", "capacity": "31"})
    _files(Path(_blank(PLATFORM)), {"platform_profile": "low-power"})


def little_memory(stage: Stage) -> None:
    """Show the laptop that next to none of its memory is left."""
    file = stage.scratch / "meminfo"
    lines = Path(MEMORY).read_text(encoding="ascii").splitlines(keepends=True)
    file.write_text("".join(_scarce(line) for line in lines), encoding="ascii")
    _show(stage, lambda: mount(str(file), MEMORY, None, MS_BIND))


def _scarce(line: str) -> str:
    return "MemAvailable:      65536 kB\n" if line.startswith("MemAvailable:") else line


def slow_laptop(stage: Stage) -> None:
    """Let other work take the laptop's processor, and its system keep little for programs."""
    for name in ("tcp_rmem", "tcp_wmem"):
        stage.bench.switch("laptop", f"net.ipv4.{name}", SMALL_BUFFERS)
    starving = Starving(
        share=played_figures(stage.spec)["laptop_share"],
        shown=stage.scratch / "stat",
        seed=stage.spec.seed,
    )
    stage.serve(Service(name="other-work", host="laptop", run=starving.run))


def tell_time(stage: Stage, apart: timedelta) -> None:
    """Let the time server's clock be ahead of this computer's."""
    stage.stop("time")
    stage.serve(time_service(stage.addresses.outside, apart))


def _show(stage: Stage, body: Callable[[], None]) -> None:
    """Change what the laptop's system shows of itself; nobody else sees it."""
    child = fork_into(stage.place("laptop"), body)
    if os.waitpid(child, 0)[1]:
        raise PracticeBroken(problem="the laptop's files could not be laid over")


def _blank(folder: str) -> str:
    """Lay an empty file system over a folder of the laptop's, and return the folder."""
    mount("none", folder, "tmpfs")
    return folder


def _files(folder: Path, values: dict[str, str]) -> None:
    folder.mkdir(exist_ok=True)
    for name, value in values.items():
        (folder / name).write_text(f"{value}\n", encoding="ascii")


STRIKES = (
    tunnel,
    second_line,
    laptop_traffic,
    battery_saver,
    little_memory,
    slow_laptop,
)
