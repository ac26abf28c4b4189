"""The two bodies: random bytes down as fast as the client takes them, bytes up counted and dropped.

A transfer ends at its deadline, or when not one byte moves for the stall time: TimeoutError.
"""

from __future__ import annotations

import random
import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from agent.server.admission import Moved
from agent.server.answers import CONTINUE, Answer, write_answer, write_head
from agent.server.head import Request
from agent.server.peer import Peer
from agent.server.receipts import Flow
from agent.server.refusal import RefusedRequest
from agent.server.site import Site
from agent.server.wire import Wire

_BYTES = re.compile(r"[0-9]{1,15}")
_RUN = re.compile(r"[0-9a-fA-F]{8,64}")
_RANDOM_BODY = (("Content-Type", "application/octet-stream"),)


def give_download(site: Site, wire: Wire, peer: Peer, request: Request) -> bool:
    """Answer a download; return whether the connection can be kept.

    What is asked beyond the limit is cut to it; the Content-Length says what will come.
    """
    count = min(_asked_bytes(request, site.options.max_bytes), site.options.max_bytes)
    head = write_head(200, _RANDOM_BODY, length=count, keep=request.keep)
    if request.method == "HEAD":
        wire.send(head, _soon(site))
        return request.keep
    with _turn(site, peer, request) as moved:
        try:
            wire.send(head, _soon(site))
            _send_random(site, wire, moved, count)
        finally:
            site.note(peer, f"download {moved.down} of {count} bytes")
    return request.keep


def take_upload(site: Site, wire: Wire, peer: Peer, request: Request) -> bool:
    """Count an upload and answer its receipt; return whether the connection can be kept.

    The answer comes after the body has ended, or after the client has ended its sending: then the
    count is partial and says so. Never before.
    """
    length = _stated_length(request, site.options.max_upload_bytes)
    run_id = run_of(request) or secrets.token_hex(16)
    with _turn(site, peer, request) as moved, _flow(site, peer, run_id) as flow:
        if request.expects_continue:
            wire.send(CONTINUE, _soon(site))
        flow.complete = _count_body(site, wire, _Body(flow, moved, length, request.rest))
    keep = request.keep and flow.complete
    answer = Answer(document=flow.receipt().to_document())
    wire.send(write_answer(answer, keep=keep), _soon(site))
    return keep


def run_of(request: Request) -> str | None:
    """Return the run id of a request, None where it has none; RefusedRequest for a bad one."""
    text = request.query.get("run")
    if text is None:
        return None
    if not _RUN.fullmatch(text):
        raise RefusedRequest(400, "bad-run")
    return text.lower()


def _asked_bytes(request: Request, otherwise: int) -> int:
    text = request.query.get("bytes")
    if text is None:
        return otherwise
    if not _BYTES.fullmatch(text):
        raise RefusedRequest(400, "bad-bytes")
    return int(text)


def _stated_length(request: Request, most: int) -> int:
    if request.chunked or request.body_bytes is None:
        raise RefusedRequest(411, "length-required")
    if request.body_bytes > most:
        raise RefusedRequest(413, "too-large")
    return request.body_bytes


@contextmanager
def _turn(site: Site, peer: Peer, request: Request) -> Iterator[Moved]:
    moved = site.admit(peer, request)
    try:
        yield moved
    finally:
        site.dismiss(peer, moved)


@contextmanager
def _flow(site: Site, peer: Peer, run_id: str) -> Iterator[Flow]:
    flow = site.receipts.open(run_id, peer.client, site.now_s())
    try:
        yield flow
    finally:
        site.receipts.close(flow, site.now_s())
        site.note(peer, f"upload {flow.bytes} bytes, complete {flow.complete}")


def _send_random(site: Site, wire: Wire, moved: Moved, count: int) -> None:
    payload = site.payload
    until_s = site.now_s() + site.options.max_seconds
    offset = random.randrange(payload.size)
    while moved.down < count:
        most = min(count - moved.down, payload.size - offset)
        by_s = min(until_s, site.now_s() + site.options.patience.stall_s)
        sent = wire.send_payload(payload, offset, most, by_s)
        moved.down += sent
        offset = (offset + sent) % payload.size


@dataclass(frozen=True, slots=True)
class _Body:
    """An upload's body: where it is counted, its length, and what came along with its head."""

    flow: Flow
    moved: Moved
    length: int
    early: bytes

    def add(self, count: int, now_s: float) -> None:
        self.flow.add(count, now_s)
        self.moved.up += count


def _count_body(site: Site, wire: Wire, body: _Body) -> bool:
    """Count the body; return whether all of it came."""
    now_s = site.now_s()
    until_s = now_s + site.options.max_seconds
    left = body.length
    got = min(len(body.early), left)
    while left:
        got = got or wire.discard(left, min(until_s, now_s + site.options.patience.stall_s))
        if not got:
            return False
        now_s = site.now_s()
        if body.flow.first_s is None:
            site.receipts.first_byte(body.flow, now_s)
        body.add(got, now_s)
        left -= got
        got = 0
    return True


def _soon(site: Site) -> float:
    return site.now_s() + site.options.patience.stall_s
