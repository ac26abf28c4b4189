"""Pages that do not come, or not as their sites sent them: whose doing it is."""

from __future__ import annotations

from collections.abc import Sequence

from agent.diagnosis import laptop_clock, portals
from agent.diagnosis.exclusions import Exclusion
from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Segment
from agent.diagnosis.needs import PAGES
from agent.diagnosis.portals import portal_of
from agent.diagnosis.rule import Match, Rule
from agent.diagnosis.web_pages import LEAST_SITES, Page, access, pages, sites
from agent.measurements import HttpStatistics, Scalar

_OPENED = frozenset({"unknown-issuer", "self-signed", "wrong-name"})
"""What a certificate has against it where somebody on the way answers in the site's place."""


def clock_wrong(facts: Facts) -> Match | None:
    """Several sites agree that the laptop's clock is off, or their certificates do."""
    told = [p.told for p in pages(facts)]
    off = laptop_clock.off_by(told)
    if off is None:
        return None
    return Match(
        evidence=tuple(p.item.id for p in pages(facts) if (p.told.host or "") in off.hosts),
        values={"off_s": off.seconds, "sites": len(off.hosts)},
        confidence=off.confidence,
    )


def certificate_problem(facts: Facts) -> Match | None:
    """A secure page shows a certificate that must not be trusted, the clock being right."""
    every = pages(facts)
    wrong = laptop_clock.off_by([p.told for p in every])
    bad = [p for p in every if laptop_clock.blames_site(p.told, wrong)]
    if not bad:
        return None
    opened = sites(p for p in bad if p.told.certificate_fault in _OPENED)
    trusted = any(p.told.certificate_valid for p in every)
    values: dict[str, Scalar] = {
        "target": bad[0].site,
        "certificate": bad[0].told.certificate_fault,
        "sites": len(sites(bad)),
    }
    evidence = tuple(p.item.id for p in bad)
    if len(opened) < LEAST_SITES or trusted:
        return Match(evidence=evidence, values=values)
    return Match(
        evidence=evidence,
        values=values,
        segment=Segment.UNDETERMINED,
        confidence=0.6,
        next_step="look-for-filter",
    )


def content_changed(facts: Facts) -> Match | None:
    """A page comes from its own host, and is not the page that it is."""
    every = pages(facts)
    altered = [p for p in every if p.told.changed]
    if altered:
        sure = 0.8 if len(sites(altered)) >= LEAST_SITES else None
        return _page_match(altered, confidence=sure)
    foreign = [p for p in every if p.told.intercepted]
    if not foreign or portal_of(facts) is not None:
        return None
    return _page_match(
        foreign, segment=Segment.BEYOND, confidence=0.5, next_step="check-page-setting"
    )


def proxy_in_the_way(facts: Facts) -> Match | None:
    """Every plain page was relayed by one and the same, which no site put before itself.

    Sites behind one large host share its name in Via too. What tells is a site whose secure page
    was not relayed so, or a fixed page, whose owner knows that nothing stands before it.
    """
    came = [p for p in pages(facts) if p.told.answered]
    plain = [p for p in came if not p.told.secure]
    names = {p.told.via for p in plain}
    relay = next(iter(names), None)
    if len(names) != 1 or relay is None or len(sites(plain)) < LEAST_SITES:
        return None
    secure = [p for p in came if p.told.secure]
    bypassed = sites(p for p in secure if p.told.via != relay) & sites(plain)
    fixed = any(p.told.changed is not None for p in plain)
    if any(p.told.via == relay for p in secure) or not (bypassed or fixed):
        return None
    return Match(
        evidence=tuple(p.item.id for p in plain),
        values={"via": relay, "sites": len(sites(plain))},
    )


def web_unreached(facts: Facts) -> Match | None:
    """The operator's side answers, no outside page does."""
    every = pages(facts)
    if len(every) < LEAST_SITES or not all(p.dead for p in every):
        return None
    known = facts.resolvers()
    answered = any(i.dns is not None and i.dns.answered for i in known)
    if known and not answered:
        return None
    return Match(evidence=tuple(p.item.id for p in every), values={"targets": len(every)})


def site_unreached(facts: Facts) -> Match | None:
    """One page does not answer, others do."""
    every = pages(facts)
    dead = [p for p in every if p.dead]
    if not any(p.told.answered for p in every) or not dead:
        return None
    return Match(
        evidence=tuple(p.item.id for p in dead),
        values={
            "target": dead[0].site,
            "sites": len(sites(dead)),
            "problem": dead[0].told.problem,
            "status": dead[0].told.status,
        },
    )


def web_slow(facts: Facts) -> Match | None:
    """A page answers later than its limit; its name's look-up and a slow line are not its own."""
    judged = facts.criteria("web-total")
    if not judged or judged[0].limit is None:
        return None
    limit_ms = judged[0].limit
    came = [p for p in pages(facts) if p.told.answered]
    slow = [p for p in came if _own_ms(p.told) > limit_ms]
    if not slow:
        return None
    many = len(sites(slow)) >= LEAST_SITES and 2 * len(slow) > len(came)
    values: dict[str, Scalar] = {
        "target": slow[0].site,
        "sites": len(sites(slow)),
        "total_ms": slow[0].told.total_ms,
        "limit_ms": limit_ms,
    }
    return Match(
        evidence=tuple(p.item.id for p in slow),
        values=values,
        segment=Segment.UNDETERMINED if many else None,
        next_step="refer-to-operator" if many else None,
    )


def laptop_proxy(facts: Facts) -> Match | None:
    """The laptop's own programs are told to use a proxy, which this test did not."""
    told = access(facts)
    if told is None or not told[1].proxies:
        return None
    item, way = told
    return Match(evidence=(item.id,), values={"proxy": way.proxies[0]})


def _page_match(
    found: Sequence[Page],
    *,
    segment: Segment | None = None,
    confidence: float | None = None,
    next_step: str | None = None,
) -> Match:
    return Match(
        evidence=tuple(p.item.id for p in found),
        values={"target": found[0].site, "sites": len(sites(found))},
        segment=segment,
        confidence=confidence,
        next_step=next_step,
    )


def _own_ms(told: HttpStatistics) -> float:
    return (told.total_ms or 0.0) - (told.lookup_ms or 0.0)


_PAGES = frozenset({"web-unreached", "site-unreached", "web-slow"})
_AS_PORTAL = _PAGES | {
    "certificate-problem",
    "content-changed",
    "port-blocked",
    "port-refused",
    "proxy-in-the-way",
}

RULES: tuple[Rule, ...] = (
    Rule(
        code="clock-wrong",
        segment=Segment.LAPTOP,
        confidence=0.9,
        next_step="set-clock",
        test=clock_wrong,
        needs=(PAGES,),
    ),
    Rule(
        code="walled-garden",
        segment=Segment.OPERATOR,
        confidence=0.75,
        next_step="finish-activation",
        test=portals.walled_garden,
        needs=(PAGES,),
        hides=_AS_PORTAL | {"login-page", "server-silent"},
    ),
    Rule(
        code="login-page",
        segment=Segment.UNDETERMINED,
        confidence=0.8,
        next_step="sign-in-or-leave",
        test=portals.login_page,
        needs=(PAGES,),
        hides=_AS_PORTAL | {"server-silent"},
    ),
    Rule(
        code="certificate-problem",
        segment=Segment.BEYOND,
        confidence=0.75,
        next_step="leave-to-site",
        test=certificate_problem,
        needs=(PAGES,),
    ),
    Rule(
        code="content-changed",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="refer-to-operator",
        test=content_changed,
        needs=(PAGES,),
        hides=frozenset({"proxy-in-the-way"}),
    ),
    Rule(
        code="proxy-in-the-way",
        segment=Segment.OPERATOR,
        confidence=0.7,
        next_step="refer-to-operator",
        test=proxy_in_the_way,
        needs=(PAGES,),
    ),
    Rule(
        code="web-unreached",
        segment=Segment.BEYOND,
        confidence=0.75,
        next_step="refer-to-operator",
        test=web_unreached,
        needs=(PAGES,),
        ruled_out_by=frozenset({Exclusion.NOTHING_PASSES}),
    ),
    Rule(
        code="site-unreached",
        segment=Segment.BEYOND,
        confidence=0.5,
        next_step="none-on-this-line",
        test=site_unreached,
        needs=(PAGES,),
    ),
    Rule(
        code="web-slow",
        segment=Segment.BEYOND,
        confidence=0.5,
        next_step="none-on-this-line",
        test=web_slow,
        needs=(PAGES,),
        ruled_out_by=frozenset({Exclusion.DOWNLOAD_SLOW}),
    ),
    Rule(
        code="laptop-proxy",
        segment=Segment.NONE,
        confidence=0.9,
        next_step="mind-laptop-proxy",
        test=laptop_proxy,
        needs=(PAGES,),
    ),
)
