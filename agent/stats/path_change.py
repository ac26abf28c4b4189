"""Two walks to one target compared: the same way, changed at a distance, or another member."""

from __future__ import annotations

from ipaddress import ip_address

from agent.measurements import Hop, PathChange, PathStatistics


def compare_paths(before: PathStatistics, after: PathStatistics) -> PathChange:
    """Return how a later walk to the same target differs from an earlier one.

    Silence is no difference. Other addresses at a distance where either walk met several are
    another of parallel ways ("member"); anywhere else the way changed there. Addresses that a
    redacted record hides are not compared.
    """
    pairs = list(zip(before.hops, after.hops, strict=False))
    if not any(_known(b.addresses) and _known(a.addresses) for b, a in pairs):
        return PathChange(kind="open")
    several = {*before.parallel_at, *after.parallel_at}
    changed = [b.distance for b, a in pairs if b.distance not in several and _other(b, a)]
    ends = _other_end(before, after)
    if changed or ends is not None:
        first = min((*changed, *(() if ends is None else (ends,))))
        return PathChange(kind="changed", distance=first)
    members = [b.distance for b, a in pairs if b.distance in several and _other_member(b, a)]
    return PathChange(kind="member", distance=members[0]) if members else PathChange(kind="same")


def _known(addresses: tuple[str, ...]) -> frozenset[str]:
    return frozenset(address for address in addresses if _is_address(address))


def _is_address(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True


def _other(before: Hop, after: Hop) -> bool:
    """Tell whether both answered and no address is common."""
    old, new = _known(before.addresses), _known(after.addresses)
    return bool(old and new) and not old & new


def _other_member(before: Hop, after: Hop) -> bool:
    """Tell whether the first flow met another address."""
    first = [_known((hop.by_flow or (hop.addresses,))[0]) for hop in (before, after)]
    return all(first) and not first[0] & first[1]


def _other_end(before: PathStatistics, after: PathStatistics) -> int | None:
    """Return where one of the walks ends and the other goes on, None where both end alike.

    A walk that merely falls silent may have been as long as the other.
    """
    ends = [path.hops[-1].distance for path in (before, after)]
    if before.reached and after.reached:
        return None if ends[0] == ends[1] else min(ends)
    if before.reached != after.reached:
        return min(ends[0 if after.reached else 1] + 1, max(ends))
    same = before.stop_code == after.stop_code
    return None if same or "silent" in {before.stop_code, after.stop_code} else min(ends)
