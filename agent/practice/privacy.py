"""The laptop's own view of files: resolv.conf, lease files and /sys that are nobody else's."""

from __future__ import annotations

import os
import socket
import sys
from pathlib import Path
from typing import NoReturn

from agent.errors import PracticeRefused
from agent.practice.kernel import CLONE_NEWNS, MS_BIND, inside, mount, unshare

LEASES = Path("/var/lib/dhcp")
RESOLVERS = Path("/etc/resolv.conf")
DONE = "done"
FOREIGN = (
    "/run/NetworkManager",
    "/run/dbus",
    "/run/resolvconf",
    "/run/systemd/netif",
    "/run/systemd/resolve",
    "/var/lib/NetworkManager",
    "/var/lib/dhclient",
    "/var/lib/dhcpcd",
)
"""Where this computer keeps leases and resolvers of its real lines, or offers them."""


def furnish_laptop(network: int, scratch: Path) -> int:
    """Return a descriptor of a mount namespace with the laptop's own files.

    The files are `scratch`/resolv.conf and the folder `scratch`/leases, which stay writable from
    outside of the namespace. Raises PracticeRefused.
    """
    (scratch / "leases").mkdir()
    (scratch / "resolv.conf").touch()
    ours, theirs = socket.socketpair()
    child = os.fork()
    if not child:
        ours.close()
        _furnish(network, scratch, theirs)
    theirs.close()
    with ours:
        problem = ours.recv(400).decode()
        if problem != DONE:
            raise PracticeRefused(problem=problem, remedy="Run as root, or on another system.")
        files = os.open(f"/proc/{child}/ns/mnt", os.O_RDONLY | os.O_CLOEXEC)
    os.waitpid(child, 0)
    return files


def _furnish(network: int, scratch: Path, parent: socket.socket) -> NoReturn:
    """Build the view, say how it went, and hold it until the parent has taken hold of it."""
    try:
        unshare(CLONE_NEWNS)
        with inside(network):
            mount("none", "/sys", "sysfs")
        _hide_real_lines()
        _show(scratch / "resolv.conf", RESOLVERS)
        _make_room_for_leases()
        if LEASES.is_dir():
            _show(scratch / "leases", LEASES)
        parent.send(DONE.encode())
    except OSError as error:
        parent.send(str(error).encode()[:400])
    parent.recv(1)
    os._exit(0)


def _hide_real_lines() -> None:
    for folder in FOREIGN:
        if Path(folder).is_dir():
            mount("none", folder, "tmpfs")


def _show(source: Path, target: Path) -> None:
    place = target.resolve()
    if source.is_file() and not place.exists():
        place.parent.mkdir(parents=True, exist_ok=True)
        place.touch()
    mount(str(source), str(place), None, MS_BIND)


def _make_room_for_leases() -> None:
    """Make the lease folder where the system has none, unless needed files would be hidden."""
    if LEASES.is_dir():
        return
    needed = (sys.prefix, sys.base_prefix, str(Path.cwd()), str(Path(__file__).resolve()))
    if not any(path.startswith("/var/lib/") for path in needed):
        mount("none", "/var/lib", "tmpfs")
        LEASES.mkdir(parents=True)
