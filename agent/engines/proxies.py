"""Proxies that this laptop's programs are told to use; nothing here uses one."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping
from urllib.request import getproxies

from agent.errors import printable
from agent.measurements import ProxySetting

SCHEMES = ("http", "https", "all")
MOST = 8
_SUFFIX = "_proxy"
# Everything before the last @ is a name and a password, which must not reach a record.
_HOST_AND_PORT = re.compile(r"(?:[a-z0-9+.-]+://)?(?:[^/]*@)?(?P<place>[^/@\s]+)/?", re.IGNORECASE)


def proxies_told(
    environment: Mapping[str, str], system: Mapping[str, str]
) -> tuple[ProxySetting, ...]:
    """Return the proxies that environment variables name, then those of the system's settings.

    `system` is by scheme; an entry that the environment already names is left out.
    """
    told = {
        name.lower().removesuffix(_SUFFIX): value
        for name, value in environment.items()
        if name.lower().endswith(_SUFFIX)
    }
    ours = _named(told, "environment")
    known = {(one.scheme, one.address) for one in ours}
    theirs = (one for one in _named(system, "system") if (one.scheme, one.address) not in known)
    return (*ours, *theirs)[:MOST]


def laptop_proxies(environment: Mapping[str, str]) -> tuple[ProxySetting, ...]:
    """Return the proxies of this laptop; on Linux only the environment has a common place."""
    return proxies_told(environment, getproxies() if sys.platform != "linux" else {})


def _named(told: Mapping[str, str], told_by: str) -> tuple[ProxySetting, ...]:
    found = ((scheme, _HOST_AND_PORT.fullmatch(told.get(scheme, "").strip())) for scheme in SCHEMES)
    return tuple(
        ProxySetting(scheme=scheme, address=printable(place["place"]), told_by=told_by)
        for scheme, place in found
        if place is not None
    )
