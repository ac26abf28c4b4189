"""Somebody else answers for the sites: the operator's activation, or a sign-in or payment page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import ip_address

from agent.assessment.evidence import Item
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.rule import Match
from agent.diagnosis.web_pages import LEAST_SITES, access, pages, sites
from agent.measurements import Scalar, WebAccessStatistics


@dataclass(frozen=True, slots=True, kw_only=True)
class Portal:
    """Somebody else answers: by which host, whether it asks, and who says so."""

    host: str | None
    asks: bool
    announced: bool
    evidence: tuple[str, ...]
    count: int


def walled_garden(facts: Facts) -> Match | None:
    """The pages that come are the activation's."""
    portal = portal_of(facts)
    if portal is None or _is_sign_in(facts, portal):
        return None
    return _portal_match(portal, None)


def login_page(facts: Facts) -> Match | None:
    """The pages that come are a sign-in or payment page's."""
    portal = portal_of(facts)
    if portal is None or not _is_sign_in(facts, portal):
        return None
    near = portal.host is not None and (_is_near(portal.host) or facts.is_gateway(portal.host))
    return _portal_match(portal, facts.near_segment() if near else None)


def portal_of(facts: Facts) -> Portal | None:
    """Return who answers for most sites; where none came, whom the network itself names."""
    came = [p for p in pages(facts) if p.told.intercepted is not None]
    taken = [p for p in came if p.told.intercepted]
    told = _announced(facts)
    most = len(sites(taken)) >= LEAST_SITES and 2 * len(taken) > len(came)
    announced = told is not None and not any(p.told.answered for p in came)
    if not most and not announced:
        return None
    ids = tuple(p.item.id for p in taken)
    host = next((p.told.portal for p in taken if p.told.portal), None)
    if announced and told is not None:
        ids, host = (*ids, told[0].id), host or told[1].portal
    return Portal(
        host=host,
        asks=any(p.told.asks_sign_in for p in taken),
        announced=announced,
        evidence=ids,
        count=len(taken),
    )


def _announced(facts: Facts) -> tuple[Item, WebAccessStatistics] | None:
    """Return the captive portal API's answer where it says that the network is closed."""
    told = access(facts)
    return told if told is not None and told[1].captive else None


def _is_sign_in(facts: Facts, portal: Portal) -> bool:
    if portal.host is not None and _is_among(portal.host, facts.activation_hosts):
        return False
    return portal.asks or (portal.host is not None and _is_near(portal.host))


def _portal_match(portal: Portal, segment: Segment | None) -> Match:
    values: dict[str, Scalar] = {
        "portal": portal.host,
        "targets": portal.count,
        "announced": portal.announced,
    }
    sure = 0.95 if portal.announced else None
    return Match(evidence=portal.evidence, values=values, segment=segment, confidence=sure)


def _is_among(host: str, known: Sequence[str]) -> bool:
    return any(host == one.lower() or host.endswith(f".{one.lower()}") for one in known)


def _is_near(host: str) -> bool:
    """Tell whether a host is written as an address that no outside site has."""
    try:
        return not ip_address(host).is_global
    except ValueError:
        return False
