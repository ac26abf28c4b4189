"""What all connections of one server share."""

from __future__ import annotations

import hmac
import re
from functools import partial

from agent.codec.card import Card, Endpoints, Load, Seen
from agent.errors import printable
from agent.server import port
from agent.server.admission import Admission, Moved
from agent.server.capacity import Budget
from agent.server.head import Request
from agent.server.load import PortLoad, ProcessorShare
from agent.server.options import SOFTWARE, ServeOptions
from agent.server.payload import Payload
from agent.server.peer import Peer
from agent.server.receipts import ReceiptBook
from agent.server.refusal import RefusedRequest
from agent.server.remote import Reflector

ENDPOINTS = Endpoints(
    download="/download", upload="/upload", receipts="/receipts", reflector="/reflector"
)


_RATE = re.compile(r"[1-9][0-9]{0,14}")


class Site:
    """The options and the books of one server.

    `interface` is the one that clients come by, None where not known. `congestion_control` is the
    one that accepted connections run under.
    """

    def __init__(
        self,
        options: ServeOptions,
        payload: Payload,
        reflector: Reflector,
        *,
        interface: str | None = None,
        congestion_control: str | None = None,
        answer_port: int | None = None,
    ) -> None:
        self.options = options
        self.payload = payload
        self.reflector = reflector
        self.congestion_control = congestion_control
        self.answer_port = answer_port
        self.capacity_bps = _capacity_bps(options, interface)
        budget = Budget(capacity_bps=self.capacity_bps, largest_bps=options.largest_bps)
        self.admission = Admission(options.max_clients, options.max_flows, options.patience, budget)
        self.receipts = ReceiptBook()
        self.processor = ProcessorShare()
        self.port = PortLoad(partial(_counters, interface), self.capacity_bps)

    def now_s(self) -> float:
        """Return monotonic seconds."""
        return self.options.clock.monotonic_s()

    def note(self, peer: Peer, event: str) -> None:
        """Write one log line about a client."""
        self.options.log(printable(f"{peer.address} port {peer.port}: {event}"))

    def tend(self, now_s: float) -> None:
        """Look at the server's load, its port and its reflector."""
        self.processor.read(now_s)
        self.port.read(self.admission.observe(now_s), now_s)
        self.admission.make_room(self.port.others_bps)
        self.port.judge(self.admission.moving(), self.processor.ratio, now_s)
        if self.reflector.tend():
            self.options.log("the reflector had ended; started another")

    def card(self, peer: Peer, request: Request) -> Card:
        """Return the card for one client."""
        return Card(
            server_id=self.options.server_id,
            software=SOFTWARE,
            endpoints=ENDPOINTS,
            limits=self.options.limits(),
            load=self._load(peer, rate_of(request)),
            seen=Seen(address=peer.address, port=peer.port),
            reflector_port=self.reflector.port,
            token_required=self.options.token is not None,
            time=self.options.clock.wall().isoformat(timespec="milliseconds"),
            congestion_control=self.congestion_control,
            answer_port=self.answer_port,
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

    def admit(self, peer: Peer, request: Request) -> Moved:
        """Start one transfer of a client; raises RefusedRequest with the time to wait."""
        decision = self.admission.enter(
            peer.client, self.now_s(), rate_bps=rate_of(request), spare=self._spare()
        )
        if not decision.admitted:
            raise RefusedRequest(503, decision.reason, wait_s=decision.wait_s)
        return decision.moved

    def dismiss(self, peer: Peer, moved: Moved) -> None:
        """End one transfer of a client."""
        self.admission.leave(peer.client, moved, self.now_s())

    def _spare(self) -> bool:
        ratio = self.processor.ratio
        return ratio is None or ratio < self.options.busy_ratio

    def _load(self, peer: Peer, rate_bps: float | None) -> Load:
        now_s = self.now_s()
        transfers, clients = self.admission.load(now_s)
        wait_s = self.admission.wait_s(peer.client, now_s, rate_bps=rate_bps, spare=self._spare())
        seen = self.port.seen
        return Load(
            transfers=transfers,
            clients=clients,
            wait_s=wait_s,
            cpu_ratio=self.processor.ratio,
            capacity_bps=self.capacity_bps,
            down_bps=None if seen is None else seen.down_bps,
            up_bps=None if seen is None else seen.up_bps,
            promised_bps=None if self.capacity_bps is None else self.admission.promised_bps(),
            crowded_s=self.port.crowded_s(now_s),
        )


def rate_of(request: Request) -> float | None:
    """Return the bits per second that a client says its line can do, None where it does not say.

    Raises RefusedRequest for what is no whole number.
    """
    text = request.query.get("rate")
    if text is None:
        return None
    if not _RATE.fullmatch(text):
        raise RefusedRequest(400, "bad-rate")
    return float(text)


def _capacity_bps(options: ServeOptions, interface: str | None) -> float | None:
    if options.capacity_bps is not None or interface is None:
        return options.capacity_bps
    return port.speed_bps(interface)


def _counters(interface: str | None) -> port.Counters | None:
    return None if interface is None else port.counters(interface)
