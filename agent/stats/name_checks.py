"""What the single queries beside a series show of a resolver, and what came in its answers."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from ipaddress import IPv6Address, ip_address, ip_network

from agent.measurements import NameCheck, NameOutcome, NamePurpose, NameQueries
from agent.stats.address_ranges import PRIVATE, SHARED, UNIQUE_LOCAL

NO_ERROR, SERVER_FAILURE, NO_SUCH_NAME = 0, 2, 3
"""Response codes of RFC 1035 §4.1.1."""

LONGEST_PLAIN = 512
"""Octets of an answer to a query without an OPT record (RFC 1035 §2.3.4)."""

NOT_OF_THE_INTERNET = (
    *PRIVATE,
    SHARED,
    UNIQUE_LOCAL,
    *map(ip_network, ("0.0.0.0/8", "127.0.0.0/8", "169.254.0.0/16", "::/127", "fe80::/10")),
)
"""Where nothing of the Internet is: RFC 1918, RFC 6598, RFC 3927, RFC 1122 §3.2.1.3, RFC 4193,
RFC 4291 §2.5."""

_MOST = 8

Told = Callable[[NameCheck], bool]


def came(checks: Iterable[NameCheck], told: Told) -> bool | None:
    """Return whether any query had an answer that tells it; None where none was sent.

    A query is repeated because any of them may be lost on the way: one answer proves the way open.
    """
    found = list(checks)
    return any(c.outcome is NameOutcome.ANSWERED and told(c) for c in found) if found else None


def of(queries: NameQueries, *purposes: NamePurpose) -> list[NameCheck]:
    """Return the queries sent for given purposes."""
    return [c for c in queries.checks if c.purpose in purposes]


def answers(queries: NameQueries, purpose: NamePurpose) -> list[NameCheck]:
    """Return the answers to the queries of a purpose."""
    return [c for c in of(queries, purpose) if c.outcome is NameOutcome.ANSWERED]


def truncates(queries: NameQueries) -> bool | None:
    """Return whether a long answer was marked as cut where it was not allowed (RFC 1035 §4.2.1).

    None where no answer came, or where a short one answered all of it.
    """
    plain = answers(queries, NamePurpose.CUT)
    if not plain or not _long_exists(queries):
        return None
    return any(c.truncated for c in plain)


def large_comes(queries: NameQueries) -> bool | None:
    """Return whether a long answer came over UDP where it was allowed (RFC 6891 §6.2.6).

    None where the name has no long answer by any way, or where it was cut again in good order.
    """
    asked = of(queries, NamePurpose.LARGE)
    if not asked or not _long_exists(queries):
        return None
    whole = came(asked, lambda c: not c.truncated and _is_long(c))
    cut = came(asked, lambda c: bool(c.truncated))
    return None if cut and not whole else whole


def large_over_tcp(queries: NameQueries) -> bool | None:
    """Return whether a long answer came over TCP; None where the name has none by any way."""
    asked = of(queries, NamePurpose.LARGE_TCP)
    if not asked or not _long_exists(queries):
        return None
    return came(asked, _is_long)


def signed_validated(queries: NameQueries) -> bool | None:
    """Return whether a soundly signed name came as validated (AD, RFC 4035 §3.2.3)."""
    good = [c for c in answers(queries, NamePurpose.SIGNED) if c.rcode == NO_ERROR and c.records]
    return any(c.authenticated for c in good) if good else None


def signed_refused(queries: NameQueries) -> bool | None:
    """Return whether every answer to a soundly signed name was a server failure."""
    found = answers(queries, NamePurpose.SIGNED)
    return all(c.rcode == SERVER_FAILURE for c in found) if found else None


def bogus_refused(queries: NameQueries) -> bool | None:
    """Return whether a wrong signature was refused (RFC 4035 §5.5: RCODE 2).

    Only where the name answers without validation, so that a failure is of its signature; None
    where that is not known.
    """
    found = answers(queries, NamePurpose.BOGUS)
    unchecked = answers(queries, NamePurpose.UNCHECKED)
    if not found or not any(c.rcode == NO_ERROR and c.records for c in unchecked):
        return None
    return all(c.rcode == SERVER_FAILURE for c in found)


def private_answers(queries: NameQueries) -> tuple[tuple[str, str], ...]:
    """Return names with a private address that came for them, those excepted that may have one."""
    allowed = {_plain(name) for name in queries.private_names}
    pairs = zip(queries.name, queries.addresses, strict=False)
    found = [(name, address) for name, came_ in pairs for address in came_ if is_private(address)]
    found += [
        (c.name, a) for c in of(queries, NamePurpose.SAME) for a in c.addresses if is_private(a)
    ]
    kept = (pair for pair in found if _plain(pair[0]) not in allowed)
    return tuple(dict.fromkeys(kept))[:_MOST]


def same_answers(queries: NameQueries) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return what came for the names that all resolvers answer alike; none for no such name."""
    settled = (c for c in answers(queries, NamePurpose.SAME) if c.rcode in (NO_ERROR, NO_SUCH_NAME))
    known: dict[str, set[str]] = {}
    for check in settled:
        known.setdefault(check.name, set()).update(check.addresses)
    return tuple((name, tuple(sorted(found))) for name, found in known.items())


def extended_errors(queries: NameQueries) -> tuple[tuple[int, str], ...]:
    """Return every extended error that came, each once (RFC 8914)."""
    told = (e for c in queries.checks for e in c.extended_errors)
    return tuple(dict.fromkeys((e.info_code, e.text) for e in told))[:_MOST]


def is_private(address: str) -> bool:
    """Tell whether an address cannot be one of the Internet."""
    try:
        parsed = ip_address(address)
    except ValueError:
        return False
    if isinstance(parsed, IPv6Address) and parsed.ipv4_mapped is not None:
        parsed = parsed.ipv4_mapped
    return any(parsed in prefix for prefix in NOT_OF_THE_INTERNET)


def _long_exists(queries: NameQueries) -> bool:
    """Tell whether the long answer is there at all: it came, or was cut, by any way."""
    asked = of(queries, NamePurpose.CUT, NamePurpose.LARGE, NamePurpose.LARGE_TCP)
    return bool(came(asked, lambda c: bool(c.truncated) or _is_long(c)))


def _is_long(check: NameCheck) -> bool:
    return check.records > 0 and (check.size_bytes or 0) > LONGEST_PLAIN


def _plain(name: str) -> str:
    return name.rstrip(".").lower()
