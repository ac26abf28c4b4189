"""What the routers of a practice network do besides forwarding: silence, limits, narrow links.

Distances are counted from the laptop: 1 is the home router, 2 the edge, 3 and on the core.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

LEAST_MTU_BYTES = 576
"""What every IPv4 host takes in one piece (RFC 791 §3.1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NarrowLink:
    """A link that takes packets of `mtu_bytes` at most: the one into the router at a distance.

    With `swallowed` both its ends drop what is too large and tell nobody: a black hole.
    """

    at: int
    mtu_bytes: int
    swallowed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PathSpec:
    """The way from the home router to the server.

    Routers at the distances `silent` never say that a hop limit ran out, those at `limited` do so
    `limited_per_s` times a second at most. With `clamp_mss` the home router lowers the segment size
    that TCP agrees on to what its own line takes (RFC 4459 §3.2).
    """

    silent: tuple[int, ...] = ()
    limited: tuple[int, ...] = ()
    limited_per_s: int = 1
    narrow: NarrowLink | None = None
    clamp_mss: bool = False

    def highest(self) -> int:
        """Return the highest distance it speaks of, 0 where it speaks of none."""
        narrow = (self.narrow.at,) if self.narrow else ()
        return max((*self.silent, *self.limited, *narrow), default=0)

    def is_plain(self) -> bool:
        """Tell whether every router merely forwards."""
        return self == PathSpec()


def path_from(document: Mapping[str, Any]) -> PathSpec:
    """Return the specification of a document made of it by `dataclasses.asdict`."""
    narrow = document["narrow"]
    lists = {name: tuple(document[name]) for name in ("silent", "limited")}
    return PathSpec(**{**document, **lists, "narrow": NarrowLink(**narrow) if narrow else None})
