"""Giving rights up on Linux: capabilities(7) through libc, for the calling thread.

Capabilities belong to threads, so all of this runs before any other thread exists.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

CAP_NET_RAW = 13
CAP_SETPCAP = 8
CHANGING_USERS = 1 << 6 | 1 << 7
"""CAP_SETGID and CAP_SETUID."""

LAST_CAPABILITY = 63

VERSION_3 = 0x20080522
PR_SET_PDEATHSIG, PR_SET_KEEPCAPS = 1, 8
PR_CAPBSET_READ, PR_CAPBSET_DROP = 23, 24
PR_SET_NO_NEW_PRIVS = 38
PR_CAP_AMBIENT, AMBIENT_RAISE, AMBIENT_CLEAR_ALL = 47, 2, 4
"""Numbers of linux/prctl.h and linux/capability.h."""

_LIBC = ctypes.CDLL(None if os.name == "posix" else "msvcrt", use_errno=True)


@dataclass(frozen=True, slots=True)
class Account:
    """Whom a process is to belong to; None leaves it with whom it is."""

    uid: int | None = None
    gid: int | None = None

    @classmethod
    def calling(cls, environment: Mapping[str, str]) -> Account:
        """Return the user who called sudo, from its variables; none where root itself called.

        None as well where this root may not change users, and where that user may not read this
        program: it could neither start the helper nor load what is loaded later.
        """
        uid, gid = (_number(environment.get(name)) for name in ("SUDO_UID", "SUDO_GID"))
        changes = os.geteuid() == 0 and effective() & CHANGING_USERS == CHANGING_USERS
        if not changes or not uid or not gid or not _may_read_program(uid, gid):
            return cls()
        return cls(uid, gid)


def _may_read_program(uid: int, gid: int) -> bool:
    """Tell whether a user may run the interpreter and read the library and this package."""
    own_gid = os.getegid()
    os.setegid(gid)
    os.seteuid(uid)
    try:
        runs = os.access(sys.executable, os.X_OK, effective_ids=True)
        return runs and all(
            os.access(path, os.R_OK, effective_ids=True) for path in (os.__file__, __file__)
        )
    finally:
        os.seteuid(0)
        os.setegid(own_gid)


def effective() -> int:
    """Return the effective capabilities of this thread as bits (proc(5))."""
    status = Path("/proc/thread-self/status").read_text(encoding="ascii", errors="replace")
    line = next(line for line in status.splitlines() if line.startswith("CapEff:"))
    return int(line.split()[1], 16)


def may_send_frames() -> bool:
    """Tell whether this process holds the right to raw frames."""
    return bool(effective() & (1 << CAP_NET_RAW))


def keep_only(kept: int, account: Account) -> None:
    """Keep the capabilities `kept` (bits), also over exec, and become `account`.

    Bounding set first, while the right to change it is there; then the user; then the sets. Raises
    OSError where the system refuses any of it.
    """
    _shrink_bounding(kept)
    _prctl(PR_SET_KEEPCAPS, 1)
    become(account)
    _ambient_clear()
    _capset(kept, inheritable=kept)
    _prctl(PR_SET_NO_NEW_PRIVS, 1)
    for bit in range(LAST_CAPABILITY + 1):
        if kept >> bit & 1:
            _prctl(PR_CAP_AMBIENT, AMBIENT_RAISE, bit)


def become(account: Account) -> None:
    """Change user and groups for good; a plain user stays who it is."""
    if account.uid is None or account.gid is None:
        return
    import pwd  # noqa: PLC0415 - not on every system

    try:
        entry = pwd.getpwuid(account.uid)
        os.initgroups(entry.pw_name, account.gid)
        # Settings and reports are the user's own; sudo may have left root's home in place.
        os.environ["HOME"] = entry.pw_dir
    except KeyError:
        os.setgroups([account.gid])
    os.setresgid(account.gid, account.gid, account.gid)
    os.setresuid(account.uid, account.uid, account.uid)


def die_with_parent(signal: int) -> None:
    """Ask for a signal when the thread that started this process ends."""
    _prctl(PR_SET_PDEATHSIG, signal)


def _shrink_bounding(kept: int) -> None:
    if not effective() >> CAP_SETPCAP & 1:
        return
    for bit in range(LAST_CAPABILITY + 1):
        if not kept >> bit & 1 and _LIBC.prctl(PR_CAPBSET_READ, bit, 0, 0, 0) == 1:
            _prctl(PR_CAPBSET_DROP, bit)


def _ambient_clear() -> None:
    _prctl(PR_CAP_AMBIENT, AMBIENT_CLEAR_ALL)


def _capset(kept: int, *, inheritable: int) -> None:
    """Set effective, permitted and inheritable (capset(2), version 3: two 32-bit words)."""
    header = (ctypes.c_uint32 * 2)(VERSION_3, 0)
    low = [word & 0xFFFFFFFF for word in (kept, kept, inheritable)]
    high = [word >> 32 for word in (kept, kept, inheritable)]
    data = (ctypes.c_uint32 * 6)(*low, *high)
    if _LIBC.capset(header, data):
        _fail("capset")


def _prctl(option: int, second: int = 0, third: int = 0) -> None:
    arguments = (ctypes.c_ulong(value) for value in (second, third, 0, 0))
    if _LIBC.prctl(option, *arguments) < 0:
        _fail(f"prctl {option}")


def _fail(call: str) -> None:
    number = ctypes.get_errno()
    raise OSError(number, f"{call}: {os.strerror(number)}")


def _number(text: str | None) -> int | None:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 11 else None
