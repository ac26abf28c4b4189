"""The few Linux calls that Python 3.11 does not offer: namespaces, mounts, capabilities."""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterator
from contextlib import contextmanager

CLONE_NEWNS = 0x00020000
CLONE_NEWNET = 0x40000000
MS_BIND = 0x1000
PR_CAPBSET_DROP = 24
PR_SET_TIMERSLACK = 29
PR_SET_NO_NEW_PRIVS = 38
PR_CAP_AMBIENT = 47
PR_CAP_AMBIENT_CLEAR_ALL = 4
CAPABILITY_VERSION_3 = 0x20080522
CAPABILITIES = 64

_libc = ctypes.CDLL(None, use_errno=True)


def _checked(result: int, what: str) -> None:
    if result != 0:
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number), what)


def unshare(flags: int) -> None:
    """Leave the given namespaces for new ones. Raises OSError."""
    _checked(_libc.unshare(flags), "unshare")


def enter(namespace_fd: int, flag: int) -> None:
    """Enter the namespace behind a descriptor. Raises OSError."""
    _checked(_libc.setns(namespace_fd, flag), "setns")


def mount(source: str, target: str, kind: str | None, flags: int = 0, data: str = "") -> None:
    """Mount a file system, or bind with MS_BIND. Raises OSError."""
    texts = (source.encode(), target.encode(), kind.encode() if kind else None)
    _checked(_libc.mount(*texts, flags, data.encode()), f"mount {target}")


def sharpen_timers() -> None:
    """Let this process be woken without the default 50 µs of slack."""
    _libc.prctl(PR_SET_TIMERSLACK, 1, 0, 0, 0)


def drop_capabilities() -> None:
    """Give up every capability for good, here and in whatever is executed next."""
    for capability in range(CAPABILITIES):
        _libc.prctl(PR_CAPBSET_DROP, capability, 0, 0, 0)
    _libc.prctl(PR_CAP_AMBIENT, PR_CAP_AMBIENT_CLEAR_ALL, 0, 0, 0)
    header = (ctypes.c_uint32 * 2)(CAPABILITY_VERSION_3, 0)
    nothing = (ctypes.c_uint32 * 6)()
    _checked(_libc.capset(header, nothing), "capset")
    _checked(_libc.prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0), "no_new_privs")


def new_network() -> int:
    """Enter a new network namespace and return a descriptor that keeps it alive."""
    unshare(CLONE_NEWNET)
    return os.open("/proc/self/ns/net", os.O_RDONLY | os.O_CLOEXEC)


@contextmanager
def inside(network_fd: int) -> Iterator[None]:
    """Run the body inside a network namespace, then return to the one before."""
    before = os.open("/proc/self/ns/net", os.O_RDONLY | os.O_CLOEXEC)
    try:
        enter(network_fd, CLONE_NEWNET)
        yield
    finally:
        enter(before, CLONE_NEWNET)
        os.close(before)
