"""Which path and method is served by what; everything else is refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from agent.server.answers import Answer
from agent.server.head import Request
from agent.server.peer import Peer
from agent.server.refusal import RefusedRequest
from agent.server.site import ENDPOINTS, Site
from agent.server.transfers import run_of

CARD_PATH = "/card"
# The two modes of RFC 8762 §4.2, as POST /reflector?mode= names them.
UNAUTHENTICATED, AUTHENTICATED = "unauthenticated", "authenticated"
Small = Callable[[Site, Peer, Request], Answer]

METHODS: Mapping[str, tuple[str, ...]] = {
    CARD_PATH: ("GET", "HEAD"),
    ENDPOINTS.download: ("GET", "HEAD"),
    ENDPOINTS.upload: ("HEAD", "PUT", "POST"),
    "/receipts": ("GET", "HEAD"),
    "/reflector": ("GET", "HEAD", "POST", "DELETE"),
}


def check_route(request: Request) -> None:
    """Raise RefusedRequest for a path that is not ours, or a method it does not take."""
    methods = METHODS.get(request.path)
    if methods is None:
        raise RefusedRequest(404, "no-such-path")
    if request.method not in methods:
        raise RefusedRequest(405, "no-such-method", headers=(("Allow", ", ".join(methods)),))


def small_answer(site: Site, peer: Peer, request: Request) -> Answer:
    """Return the answer of a route that is no transfer."""
    return _SMALL[request.path](site, peer, request)


def _card(site: Site, peer: Peer, request: Request) -> Answer:
    return Answer(document=site.card(peer, request).to_document())


def _receipts(site: Site, _peer: Peer, request: Request) -> Answer:
    run_id = run_of(request)
    receipt = site.receipts.receipt(run_id, site.now_s()) if run_id else None
    if receipt is None:
        raise RefusedRequest(404, "no-such-run")
    return Answer(document=receipt.to_document())


def _reflector(site: Site, peer: Peer, request: Request) -> Answer:
    if request.method == "POST":
        return _grant(site, peer, authenticated=_authenticated(request))
    name = request.query.get("session", "")
    reflector = site.reflector
    find = reflector.close_session if request.method == "DELETE" else reflector.report
    report = find(name)
    if report is None:
        raise RefusedRequest(404, "no-such-session")
    return Answer(document=report.to_document())


def _authenticated(request: Request) -> bool:
    mode = request.query.get("mode", UNAUTHENTICATED)
    if mode not in (UNAUTHENTICATED, AUTHENTICATED):
        raise RefusedRequest(400, "bad-mode")
    return mode == AUTHENTICATED


def _grant(site: Site, peer: Peer, *, authenticated: bool) -> Answer:
    grant = site.reflector.open(peer.address, peer.client, authenticated=authenticated)
    if grant is None:
        raise RefusedRequest(503, "too-many-sessions", wait_s=15.0)
    return Answer(document=grant.to_document(), status=201)


_SMALL: Mapping[str, Small] = {
    CARD_PATH: _card,
    "/receipts": _receipts,
    "/reflector": _reflector,
}
