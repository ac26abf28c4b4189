"""What all connections of one server share."""

from __future__ import annotations

import hmac
import os

from agent.codec.card import Card, Endpoints, Load, Seen
from agent.errors import printable
from agent.server.admission import Admission
from agent.server.head import Request
from agent.server.options import SOFTWARE, ServeOptions
from agent.server.payload import Payload
from agent.server.peer import Peer
from agent.server.receipts import ReceiptBook
from agent.server.refusal import RefusedRequest
from agent.server.remote import Reflector

ENDPOINTS = Endpoints(
    download="/download", upload="/upload", receipts="/receipts", reflector="/reflector"
)


class Site:
    """The options and the books of one server."""

    def __init__(self, options: ServeOptions, payload: Payload, reflector: Reflector) -> None:
        self.options = options
        self.payload = payload
        self.reflector = reflector
        self.admission = Admission(options.max_clients, options.max_flows, options.patience)
        self.receipts = ReceiptBook()
        self.processor = ProcessorShare()

    def now_s(self) -> float:
        """Return monotonic seconds."""
        return self.options.clock.monotonic_s()

    def note(self, peer: Peer, event: str) -> None:
        """Write one log line about a client."""
        self.options.log(printable(f"{peer.address} port {peer.port}: {event}"))

    def card(self, peer: Peer) -> Card:
        """Return the card for one client."""
        return Card(
            server_id=self.options.server_id,
            software=SOFTWARE,
            endpoints=ENDPOINTS,
            limits=self.options.limits(),
            load=self._load(peer),
            seen=Seen(address=peer.address, port=peer.port),
            reflector_port=self.reflector.port,
            token_required=self.options.token is not None,
            time=self.options.clock.wall().isoformat(timespec="milliseconds"),
        )

    def check_token(self, request: Request) -> None:
        """Raise RefusedRequest where a token is set and the request does not carry it.

        The comparison takes the same time wherever the tokens differ.
        """
        if self.options.token is None:
            return
        scheme, _, given = request.headers.get("authorization", "").partition(" ")
        wanted = self.options.token.encode()
        right = hmac.compare_digest(given.strip().encode(), wanted)
        if scheme.lower() != "bearer" or not right:
            raise RefusedRequest(401, "token", headers=(("WWW-Authenticate", "Bearer"),))

    def admit(self, peer: Peer) -> None:
        """Start one transfer of a client; raises RefusedRequest with the time to wait."""
        decision = self.admission.enter(peer.client, self.now_s(), spare=self._spare())
        if not decision.admitted:
            raise RefusedRequest(503, decision.reason, wait_s=decision.wait_s)

    def dismiss(self, peer: Peer) -> None:
        """End one transfer of a client."""
        self.admission.leave(peer.client, self.now_s())

    def _spare(self) -> bool:
        ratio = self.processor.ratio
        return ratio is None or ratio < self.options.busy_ratio

    def _load(self, peer: Peer) -> Load:
        now_s = self.now_s()
        transfers, clients = self.admission.load(now_s)
        return Load(
            transfers=transfers,
            clients=clients,
            wait_s=self.admission.wait_s(peer.client, now_s, spare=self._spare()),
            cpu_ratio=self.processor.ratio,
        )


class ProcessorShare:
    """How much of the processors it may use this process used lately, 0..1."""

    def __init__(self) -> None:
        self.ratio: float | None = None
        self._before: tuple[float, float] | None = None

    def read(self, now_s: float) -> None:
        """Take a reading; `ratio` becomes the share since the reading before."""
        used = os.times()
        spent_s = used.user + used.system
        if self._before is not None and now_s > self._before[1]:
            share = (spent_s - self._before[0]) / (now_s - self._before[1]) / _processors()
            self.ratio = min(1.0, max(0.0, share))
        self._before = (spent_s, now_s)


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
