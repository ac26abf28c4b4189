"""What the operator's server says of itself, grants and reports: JSON to frozen values and back.

Sizes are bytes, durations seconds, rates per second. Every `parse_*` takes the bytes of one JSON
object, ignores members it does not know and raises MalformedMessage on anything off.
"""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from datetime import datetime
from itertools import zip_longest

from agent.codec.document import Document, read_document

FORMAT = 1
MAX_CARD_BYTES = 16_384
MAX_SLICES = 10_000
MAX_RUNS = 20_000
MAX_PACKETS = 1_000_000
# linux/tcp.h: TCP_CA_NAME_MAX is 16.
MAX_CONGESTION_CONTROL = 16
SLICE_S = 0.1

_ENDPOINT = re.compile(
    r"(?:/(?!/)|https?://(?:[A-Za-z0-9.-]+|\[[0-9A-Fa-f:.]+\])(?::[0-9]{1,5})?(?![^/?]))"
    r"[A-Za-z0-9._~!$&*+,;=:@%/?-]*"
)
_SESSION = re.compile(r"[0-9a-f]{16,64}")
_KEY = re.compile(r"[0-9a-f]{64}")
_CODE = re.compile(r"[a-z0-9-]{1,40}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Endpoints:
    """Where each service is: a path on the card's own server, or an absolute http(s) URL.

    `reflector` and `receipts` are None where the server has none.
    """

    download: str
    upload: str
    receipts: str | None = None
    reflector: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one transfer and one client may use.

    `seconds` bounds one transfer, `bytes` one download, `upload_bytes` one upload, `flows` the
    transfers of one client at a time, `clients` how many clients are served at a time.
    """

    seconds: float
    bytes: int
    upload_bytes: int
    flows: int
    clients: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What the server is doing now.

    `wait_s` is how long this client would be asked to wait, 0 = it would be served at once;
    `cpu_ratio` is the share of the server's processors in use by it. `capacity_bps` is what the
    server's port can carry, `down_bps` and `up_bps` what it lately sent and received in all,
    `promised_bps` what the clients being served may use. `crowded_s` is how long ago several
    clients together last filled the server so far that one may have been held back by it. None
    where not known, or where it never was.
    """

    transfers: int
    clients: int
    wait_s: float = 0.0
    cpu_ratio: float | None = None
    capacity_bps: float | None = None
    down_bps: float | None = None
    up_bps: float | None = None
    promised_bps: float | None = None
    crowded_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """The client's address and port as the server sees them."""

    address: str
    port: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One server: who it is, where its services are, what it allows, how busy it is.

    `reflector_port` is UDP, None where there is no reflector; `answer_port` is TCP and UDP, where
    the server says how it sees who asks (`agent.codec.sighting`). `time` is RFC 3339.
    `congestion_control` is the one that the server's downloads run under, None where not known.
    """

    server_id: str
    software: str
    endpoints: Endpoints
    limits: Limits
    load: Load
    seen: Seen
    reflector_port: int | None
    token_required: bool
    time: str
    congestion_control: str | None = None
    answer_port: int | None = None
    format: int = FORMAT

    def to_document(self) -> dict[str, object]:
        """Return the card as plain values for JSON."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReflectorGrant:
    """Leave to send STAMP packets with one SSID (RFC 8972 §3) from the asking address.

    `seconds` counts from the grant; `packets_per_s` and `max_packets` bound what is answered.
    `key` is that of the authenticated mode (RFC 8762 §4.4) in hexadecimal digits, None where the
    session is unauthenticated. It is as secret as the connection that brings it.
    """

    port: int
    ssid: int
    session: str
    seconds: float
    packets_per_s: int
    max_packets: int
    key: str | None = field(default=None, repr=False)

    @property
    def secret(self) -> bytes | None:
        """Return the octets of the key, None where the session is unauthenticated."""
        return None if self.key is None else bytes.fromhex(self.key)

    def to_document(self) -> dict[str, object]:
        """Return the grant as plain values for JSON."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReflectorReport:
    """What reached the reflector in one session.

    `received` counts every packet that came with the granted address and SSID, `reflected` those
    that were answered, `refused` those past the rate, the count or the time. `runs` holds the
    senders' sequence numbers in order of arrival as (first, count) of numbers that rise by one;
    `cut` says that more arrived than `runs` could hold. `elsewhere` counts packets with the granted
    SSID from another address, `unverified` those from the granted address that were not in the
    session's mode or whose HMAC was wrong: none was answered, none is in `received`.
    """

    received: int
    reflected: int
    refused: int
    runs: tuple[tuple[int, int], ...]
    cut: bool = False
    elsewhere: int = 0
    unverified: int = 0

    def arrivals(self) -> Iterator[int]:
        """Yield the sequence numbers in order of arrival, duplicates included."""
        for first, count in self.runs:
            yield from range(first, first + count)

    def to_document(self) -> dict[str, object]:
        """Return the report as plain values for JSON."""
        return asdict(self) | {"runs": [list(run) for run in self.runs]}


@dataclass(frozen=True, slots=True, kw_only=True)
class UploadReceipt:
    """What arrived of an upload, counted by the server.

    `seconds` runs from the first byte to the last; `slices_100ms` are the bytes of each tenth of a
    second from the first byte and add up to `bytes`. `complete` says that every flow's body arrived
    whole; `flows` is how many connections are summed.
    """

    bytes: int
    seconds: float
    complete: bool
    slices_100ms: tuple[int, ...]
    flows: int = 1

    def beside(self, other: UploadReceipt) -> UploadReceipt:
        """Return one receipt for two bodies, one after the other on the same time scale."""
        pairs = zip_longest(self.slices_100ms, other.slices_100ms, fillvalue=0)
        return UploadReceipt(
            bytes=self.bytes + other.bytes,
            seconds=self.seconds + other.seconds,
            complete=self.complete and other.complete,
            slices_100ms=tuple(a + b for a, b in pairs),
            flows=self.flows,
        )

    def to_document(self) -> dict[str, object]:
        """Return the receipt as plain values for JSON."""
        return asdict(self) | {"slices_100ms": list(self.slices_100ms)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why the server did not serve; `wait_s` is given where asking again later will help."""

    code: str
    wait_s: float | None = None

    def to_document(self) -> dict[str, object]:
        """Return the refusal as plain values for JSON."""
        return {"error": asdict(self)}


def parse_card(data: bytes) -> Card:
    """Return the card in the bytes; raises MalformedMessage."""
    card = read_document(data, "server card", MAX_CARD_BYTES)
    return Card(
        format=card.whole("format", FORMAT, FORMAT),
        server_id=card.text("server_id", 80),
        software=card.text("software", 80),
        endpoints=_endpoints(card.inner("endpoints")),
        limits=_limits(card.inner("limits")),
        load=_load(card.inner("load")),
        seen=_seen(card.inner("seen")),
        reflector_port=card.maybe("reflector_port", lambda name: card.whole(name, 1, 65535)),
        token_required=card.truth("token_required"),
        time=_time(card),
        congestion_control=card.maybe(
            "congestion_control", lambda name: card.text(name, MAX_CONGESTION_CONTROL)
        ),
        answer_port=card.maybe("answer_port", lambda name: card.whole(name, 1, 65535)),
    )


def parse_grant(data: bytes) -> ReflectorGrant:
    """Return the grant in the bytes; raises MalformedMessage."""
    grant = read_document(data, "reflector grant", MAX_CARD_BYTES)
    return ReflectorGrant(
        port=grant.whole("port", 1, 65535),
        ssid=grant.whole("ssid", 1, 65535),
        session=_matching(grant, "session", _SESSION),
        seconds=grant.number("seconds", most=86_400),
        packets_per_s=grant.whole("packets_per_s", 1, MAX_PACKETS),
        max_packets=grant.whole("max_packets", 1, MAX_PACKETS),
        key=grant.maybe("key", lambda name: _matching(grant, name, _KEY)),
    )


def parse_report(data: bytes) -> ReflectorReport:
    """Return the report in the bytes; raises MalformedMessage."""
    document = read_document(data, "reflector report")
    report = ReflectorReport(
        received=document.whole("received"),
        reflected=document.whole("reflected"),
        refused=document.whole("refused"),
        runs=document.pairs("runs", MAX_RUNS),
        cut=document.truth("cut"),
        elsewhere=document.maybe("elsewhere", document.whole) or 0,
        unverified=document.maybe("unverified", document.whole) or 0,
    )
    _check_report(document, report)
    return report


def parse_receipt(data: bytes) -> UploadReceipt:
    """Return the receipt in the bytes; raises MalformedMessage."""
    document = read_document(data, "upload receipt")
    receipt = UploadReceipt(
        bytes=document.whole("bytes"),
        seconds=document.number("seconds", most=86_400),
        complete=document.truth("complete"),
        slices_100ms=document.wholes("slices_100ms", MAX_SLICES),
        flows=document.whole("flows", 0, 10_000),
    )
    if sum(receipt.slices_100ms) != receipt.bytes:
        document.refuse("slices_100ms", "do not add up to bytes")
    return receipt


def parse_refusal(data: bytes) -> Refusal:
    """Return the refusal in the bytes; raises MalformedMessage."""
    error = read_document(data, "server refusal", MAX_CARD_BYTES).inner("error")
    wait_s = error.maybe("wait_s", lambda name: error.number(name, most=86_400))
    return Refusal(code=_matching(error, "code", _CODE), wait_s=wait_s)


def _endpoints(part: Document) -> Endpoints:
    return Endpoints(
        download=_matching(part, "download", _ENDPOINT),
        upload=_matching(part, "upload", _ENDPOINT),
        receipts=part.maybe("receipts", lambda name: _matching(part, name, _ENDPOINT)),
        reflector=part.maybe("reflector", lambda name: _matching(part, name, _ENDPOINT)),
    )


def _limits(part: Document) -> Limits:
    return Limits(
        seconds=part.number("seconds", most=86_400),
        bytes=part.whole("bytes", 1),
        upload_bytes=part.whole("upload_bytes", 1),
        flows=part.whole("flows", 1, 10_000),
        clients=part.whole("clients", 1, 1_000_000),
    )


def _load(part: Document) -> Load:
    return Load(
        transfers=part.whole("transfers", 0, 1_000_000),
        clients=part.whole("clients", 0, 1_000_000),
        wait_s=part.number("wait_s", most=86_400),
        cpu_ratio=part.maybe("cpu_ratio", lambda name: part.number(name, most=1.0)),
        capacity_bps=part.maybe("capacity_bps", part.number),
        down_bps=part.maybe("down_bps", part.number),
        up_bps=part.maybe("up_bps", part.number),
        promised_bps=part.maybe("promised_bps", part.number),
        crowded_s=part.maybe("crowded_s", part.number),
    )


def _seen(part: Document) -> Seen:
    address = part.text("address", 45)
    try:
        ipaddress.ip_address(address)
    except ValueError:
        part.refuse("address", "is not an IP address")
    return Seen(address=address, port=part.whole("port", 1, 65535))


def _time(part: Document) -> str:
    text = part.text("time", 40)
    try:
        zone = datetime.fromisoformat(text).utcoffset()
    except ValueError:
        part.refuse("time", "is not a time of RFC 3339")
    if zone is None or "T" not in text:
        part.refuse("time", "is not a time of RFC 3339")
    return text


def _matching(part: Document, name: str, pattern: re.Pattern[str]) -> str:
    text = part.text(name)
    if not pattern.fullmatch(text):
        part.refuse(name, "is not in its form")
    return text


def _check_report(document: Document, report: ReflectorReport) -> None:
    held = sum(count for _, count in report.runs)
    if report.received != report.reflected + report.refused:
        document.refuse("received", "is not reflected and refused together")
    if report.received > MAX_PACKETS:
        document.refuse("received", "is out of range")
    if any(not count or first + count > 2**32 for first, count in report.runs):
        document.refuse("runs", "hold an empty run or a number past 32 bits")
    if held > report.received or (held < report.received and not report.cut):
        document.refuse("runs", "do not add up to received")
