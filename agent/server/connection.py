"""The life of one connection: requests one after the other, each answered or refused."""

from __future__ import annotations

from agent.server.answers import of_refusal, write_answer, write_head
from agent.server.head import Request, read_head
from agent.server.peer import Peer
from agent.server.refusal import RefusedRequest
from agent.server.routes import CARD_PATH, check_route, small_answer
from agent.server.site import ENDPOINTS, Site
from agent.server.transfers import give_download, take_upload
from agent.server.wire import Wire

# No request but an upload has a body that means anything; a small one is read and dropped.
MAX_SMALL_BODY = 4_096
# What a refused client may still be sending when it has not yet seen the answer.
MAX_LINGER_BYTES = 16 * 1_048_576


class Connection:
    """One client's connection, served by the thread that calls `serve`."""

    def __init__(self, site: Site, wire: Wire, peer: Peer) -> None:
        self._site = site
        self._wire = wire
        self._peer = peer
        self._early = b""

    def serve(self) -> None:
        """Serve until either side ends; never raises for what the far end does."""
        try:
            self._wire.begin(self._within(self._site.options.patience.head_s))
            while self._one_request():
                pass
        except TimeoutError:
            self._site.note(self._peer, "shed: too slow")
        except OSError as error:
            self._site.note(self._peer, f"gone: {type(error).__name__}")

    def _one_request(self) -> bool:
        request: Request | None = None
        try:
            options = self._site.options
            request = read_head(self._wire, self._early, options.patience, options.clock)
            if request is None:
                return False
            self._early = request.rest[request.body_bytes or 0 :]
            return self._served(request)
        except RefusedRequest as refused:
            return self._refuse(refused, request)

    def _served(self, request: Request) -> bool:
        check_route(request)
        if request.path != CARD_PATH:
            self._site.check_token(request)
        if request.path == ENDPOINTS.upload and request.method != "HEAD":
            return take_upload(self._site, self._wire, self._peer, request)
        self._drop_body(request)
        if request.path == ENDPOINTS.download:
            return give_download(self._site, self._wire, self._peer, request)
        if request.path == ENDPOINTS.upload:
            return self._nothing(request)
        return self._small(request)

    def _nothing(self, request: Request) -> bool:
        """Answer who only opens a connection for uploads to come."""
        head = write_head(204, (), length=None, keep=request.keep)
        self._wire.send(head, self._within(self._site.options.patience.stall_s))
        return request.keep

    def _small(self, request: Request) -> bool:
        answer = small_answer(self._site, self._peer, request)
        data = write_answer(answer, keep=request.keep, body=request.method != "HEAD")
        self._wire.send(data, self._within(self._site.options.patience.stall_s))
        return request.keep

    def _drop_body(self, request: Request) -> None:
        if request.chunked or (request.body_bytes or 0) > MAX_SMALL_BODY:
            raise RefusedRequest(413, "too-large")
        left = (request.body_bytes or 0) - len(request.rest)
        until_s = self._within(self._site.options.patience.head_s)
        while left > 0:
            got = self._wire.discard(left, until_s)
            if not got:
                raise ConnectionResetError
            left -= got

    def _refuse(self, refused: RefusedRequest, request: Request | None) -> bool:
        keep = request is not None and request.keep and not request.has_body
        self._site.note(self._peer, f"refused {refused.status} {refused.refusal.code}")
        body = request is None or request.method != "HEAD"
        data = write_answer(of_refusal(refused), keep=keep, body=body)
        self._wire.send(data, self._within(self._site.options.patience.stall_s))
        if not keep:
            self._linger()
        return keep

    def _linger(self) -> None:
        """Take what is still coming, for closing at once would destroy the answer on its way."""
        self._wire.end_sending()
        until_s = self._within(self._site.options.patience.linger_s)
        left = MAX_LINGER_BYTES
        while left > 0:
            got = self._wire.discard(left, until_s)
            if not got:
                return
            left -= got

    def _within(self, seconds: float) -> float:
        return self._site.now_s() + seconds
