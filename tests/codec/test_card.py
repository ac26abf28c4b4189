"""The server's documents: any bytes give a value or MalformedMessage; written reads back equal."""

import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec import card as cards
from agent.codec.document import write_document
from agent.errors import MalformedMessage

PARSERS = (
    cards.parse_card,
    cards.parse_grant,
    cards.parse_report,
    cards.parse_receipt,
    cards.parse_refusal,
)

CARD = {
    "format": 1,
    "server_id": "tern-bay-1",
    "software": "doorstep 0.1.0",
    "endpoints": {
        "download": "/download",
        "upload": "https://up.ternbay.example/upload",
        "receipts": "/receipts",
        "reflector": None,
    },
    "limits": {"seconds": 60, "bytes": 10**10, "upload_bytes": 10**10, "flows": 8, "clients": 16},
    "load": {"transfers": 3, "clients": 2, "wait_s": 0, "cpu_ratio": None},
    "seen": {"address": "2001:db8::17", "port": 40000},
    "reflector_port": 862,
    "token_required": False,
    "time": "2026-03-02T09:00:00Z",
}
GRANT = {
    "port": 862,
    "ssid": 4711,
    "session": "0123456789abcdef",
    "seconds": 60.0,
    "packets_per_s": 200,
    "max_packets": 10_000,
}
REPORT = {
    "received": 5,
    "reflected": 4,
    "refused": 1,
    "runs": [[0, 3], [4, 1], [3, 1]],
    "cut": False,
}
RECEIPT = {"bytes": 30, "seconds": 0.2, "complete": True, "slices_100ms": [10, 0, 20], "flows": 2}


def put(document, path, value):
    """Return a copy of the document with one member replaced; `...` removes it."""
    copy = json.loads(json.dumps(document))
    *outer, last = path.split(".")
    part = copy
    for name in outer:
        part = part[name]
    if value is ...:
        del part[last]
    else:
        part[last] = value
    return json.dumps(copy).encode()


FAULTS = [
    (cards.parse_card, CARD, path, value)
    for path, values in {
        "format": (2, True, "1", ...),
        "server_id": ("", "a\nb", "x" * 81, 7, "\ud800", ...),
        "endpoints": ([], None),
        "endpoints.download": (
            "download",
            "//host/x",
            "ftp://host/x",
            "http://user@host/x",
            "/a b",
            '/"x',
            "file:///etc",
            None,
        ),
        "limits.seconds": (-1, float("nan"), float("inf"), 1e9, "60", True),
        "limits.bytes": (0, -1, 1.5, 2**53, 10**400),
        "limits.flows": (0, 10_001),
        "load.transfers": (-1, 1e3),
        "load.cpu_ratio": (1.5, -0.1, "0"),
        "load.wait_s": (-1,),
        "load.capacity_bps": (-1, "1G"),
        "load.crowded_s": (-1, True),
        "congestion_control": ("", "x" * 17, 7),
        "seen.address": ("203.0.113.999", "host.example", ""),
        "seen.port": (0, 65536),
        "reflector_port": (0, 65536, "862"),
        "token_required": (0, "no", None),
        "time": ("2026-03-02", "2026-03-02T09:00:00", "now"),
    }.items()
    for value in values
]
FAULTS += [
    (cards.parse_grant, GRANT, "ssid", 0),
    (cards.parse_grant, GRANT, "ssid", 65536),
    (cards.parse_grant, GRANT, "session", "../../etc/passwd"),
    (cards.parse_grant, GRANT, "session", "ABCDEF0123456789"),
    (cards.parse_grant, GRANT, "max_packets", cards.MAX_PACKETS + 1),
    (cards.parse_grant, GRANT, "key", "ab" * 31),
    (cards.parse_grant, GRANT, "key", "AB" * 32),
    (cards.parse_grant, GRANT, "key", 7),
    (cards.parse_report, REPORT, "runs", [[0, 3], [4, 1]]),
    (cards.parse_report, REPORT, "runs", [[0, 3], [4, 1], [3, 0], [9, 1]]),
    (cards.parse_report, REPORT, "runs", [[0, 3], [4, 1, 1], [3, 1]]),
    (cards.parse_report, REPORT, "runs", [[2**32, 5]]),
    (cards.parse_report, REPORT, "runs", [[0, 6]]),
    (cards.parse_report, REPORT, "runs", {"0": 5}),
    (cards.parse_report, REPORT, "received", 6),
    (cards.parse_report, REPORT, "refused", -1),
    (cards.parse_report, REPORT, "elsewhere", -1),
    (cards.parse_report, REPORT, "unverified", "many"),
    (cards.parse_receipt, RECEIPT, "bytes", 31),
    (cards.parse_receipt, RECEIPT, "slices_100ms", [30, -1, 1]),
    (cards.parse_receipt, RECEIPT, "slices_100ms", [0] * (cards.MAX_SLICES + 1)),
    (cards.parse_receipt, RECEIPT, "complete", 1),
    (cards.parse_refusal, {"error": {"code": "busy"}}, "error.code", "<b>busy</b>"),
    (cards.parse_refusal, {"error": {"code": "busy"}}, "error.wait_s", -3),
    (cards.parse_refusal, {"error": {"code": "busy"}}, "error", "busy"),
]


@pytest.mark.parametrize(("parse", "document", "path", "value"), FAULTS)
def test_one_wrong_member_is_refused(parse, document, path, value):
    parse(json.dumps(document).encode())
    with pytest.raises(MalformedMessage):
        parse(put(document, path, value))


def test_a_refusal_names_the_document_and_the_member():
    with pytest.raises(MalformedMessage) as refusal:
        cards.parse_card(put(CARD, "limits.seconds", "60"))
    assert refusal.value.fields["message"] == "server card"
    assert str(refusal.value.fields["problem"]).startswith("limits.seconds ")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"null",
        b"[]",
        b"[" * 100_000,
        b'{"a":' * 3_000,
        b'{"format":1,"format":1}',
        b"\xff\xfe{}",
        b"{}" + b" " * cards.MAX_CARD_BYTES,
        b'{"format":' + b"9" * 5_000 + b"}",
    ],
)
@pytest.mark.parametrize("parse", PARSERS)
def test_bytes_that_are_no_document_are_refused(parse, data):
    with pytest.raises(MalformedMessage):
        parse(data)


@given(st.sampled_from(PARSERS), st.binary(max_size=400))
def test_any_bytes_give_a_value_or_malformed(parse, data):
    try:
        parse(data)
    except MalformedMessage:
        return


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=8,
)


@given(
    st.sampled_from([(p, d) for p, d, _, _ in FAULTS[:1] + FAULTS[-20:]]),
    st.data(),
    JSON,
)
def test_any_value_in_any_member_gives_a_value_or_malformed(pair, data, value):
    parse, document = pair
    name = data.draw(st.sampled_from(sorted(document)))
    try:
        parse(put(document, name, value))
    except MalformedMessage:
        return


def test_members_of_a_newer_server_are_ignored():
    newer = put(CARD, "limits.something_new", {"deep": [1, 2]})
    assert cards.parse_card(newer) == cards.parse_card(json.dumps(CARD).encode())


def test_what_an_older_server_does_not_tell_is_not_known():
    card = cards.parse_card(json.dumps(CARD).encode())
    assert card.congestion_control is None
    assert (card.load.capacity_bps, card.load.crowded_s) == (None, None)
    report = cards.parse_report(json.dumps(REPORT).encode())
    assert (report.elsewhere, report.unverified) == (0, 0)
    assert cards.parse_grant(json.dumps(GRANT).encode()).secret is None


def test_a_cut_report_may_hold_fewer_numbers_than_arrived():
    report = cards.parse_report(put(REPORT | {"cut": True}, "runs", [[7, 2]]))
    assert list(report.arrivals()) == [7, 8]
    assert report.received == 5


PORT = st.integers(1, 65535)
LINE = st.text(st.characters(categories=("L", "N", "P")), min_size=1, max_size=80)
ENDPOINT = st.from_regex(r"\A(/|https?://[a-z.]{1,20}(:[0-9]{1,5})?/)[a-z0-9?=&]{0,20}\Z")
SECONDS = st.floats(0, 86_400)
COUNT = st.integers(0, 10_000)
RATE = st.none() | st.floats(0, 1e12)

CARDS = st.builds(
    cards.Card,
    server_id=LINE,
    software=LINE,
    endpoints=st.builds(
        cards.Endpoints,
        download=ENDPOINT,
        upload=ENDPOINT,
        receipts=st.none() | ENDPOINT,
        reflector=st.none() | ENDPOINT,
    ),
    limits=st.builds(
        cards.Limits,
        seconds=SECONDS,
        bytes=st.integers(1, 2**53 - 1),
        upload_bytes=st.integers(1, 2**53 - 1),
        flows=st.integers(1, 10_000),
        clients=st.integers(1, 10_000),
    ),
    load=st.builds(
        cards.Load,
        transfers=COUNT,
        clients=COUNT,
        wait_s=SECONDS,
        cpu_ratio=st.none() | st.floats(0, 1),
        capacity_bps=RATE,
        down_bps=RATE,
        up_bps=RATE,
        promised_bps=RATE,
        crowded_s=st.none() | SECONDS,
    ),
    seen=st.builds(cards.Seen, address=st.ip_addresses().map(str), port=PORT),
    reflector_port=st.none() | PORT,
    token_required=st.booleans(),
    time=st.datetimes(timezones=st.just(UTC)).map(datetime.isoformat),
    congestion_control=st.none() | st.from_regex(r"\A[a-z]{1,16}\Z"),
    format=st.just(cards.FORMAT),
)
GRANTS = st.builds(
    cards.ReflectorGrant,
    port=PORT,
    ssid=PORT,
    session=st.from_regex(r"\A[0-9a-f]{16,64}\Z"),
    seconds=SECONDS,
    packets_per_s=st.integers(1, 10_000),
    max_packets=st.integers(1, 100_000),
    key=st.none() | st.binary(min_size=32, max_size=32).map(bytes.hex),
)


@st.composite
def reports(draw):
    runs = draw(st.lists(st.tuples(st.integers(0, 2**31), st.integers(1, 100)), max_size=20))
    held = sum(count for _, count in runs)
    refused = draw(st.integers(0, held))
    return cards.ReflectorReport(
        received=held,
        reflected=held - refused,
        refused=refused,
        runs=tuple(runs),
        elsewhere=draw(COUNT),
        unverified=draw(COUNT),
    )


def test_bodies_one_after_the_other_add_up_on_their_time_scale():
    first = cards.UploadReceipt(bytes=30, seconds=0.2, complete=True, slices_100ms=(10, 20))
    second = cards.UploadReceipt(bytes=7, seconds=0.1, complete=False, slices_100ms=(0, 3, 4))
    both = first.beside(second)
    assert both.slices_100ms == (10, 23, 4)
    assert (both.bytes, both.complete, both.flows) == (37, False, 1)
    assert both.seconds == pytest.approx(0.3)


@st.composite
def receipts(draw):
    slices = draw(st.lists(st.integers(0, 10**9), max_size=50))
    return cards.UploadReceipt(
        bytes=sum(slices),
        seconds=draw(SECONDS),
        complete=draw(st.booleans()),
        slices_100ms=tuple(slices),
        flows=draw(COUNT),
    )


REFUSALS = st.builds(
    cards.Refusal, code=st.from_regex(r"\A[a-z0-9-]{1,40}\Z"), wait_s=st.none() | SECONDS
)


@given(
    st.one_of(
        CARDS.map(lambda v: (cards.parse_card, v)),
        GRANTS.map(lambda v: (cards.parse_grant, v)),
        reports().map(lambda v: (cards.parse_report, v)),
        receipts().map(lambda v: (cards.parse_receipt, v)),
        REFUSALS.map(lambda v: (cards.parse_refusal, v)),
    )
)
def test_what_is_written_reads_back_equal(case):
    parse, value = case
    assert parse(write_document(value.to_document())) == value
