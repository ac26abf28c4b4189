"""Bulk flows against real servers on loopback: our own, nginx, and hostile ones."""

import ssl
import threading
from pathlib import Path

import pytest
from bulk_runs import CAP, PLAN, assert_whole, http_engine, measure
from loopback_servers import WAIT_S, nginx, operator

from agent.engines.bulk import BulkEngine
from agent.errors import DoorstepError
from agent.measurements import CountedBy, Direction, Ended, State
from agent.ports.http import HttpRequest
from agent.ports.stream import FlowOrder, FlowPhase
from agent.probes.server import read_card, transfer_urls, upload_receipt

pytestmark = pytest.mark.loopback


def loopback_bytes():
    """Return what the kernel counted on the loopback interface (proc(5), /proc/net/dev)."""
    table = Path("/proc/net/dev").read_text(encoding="ascii").splitlines()
    row = next(line for line in table if line.strip().startswith("lo:"))
    return int(row.split(":")[1].split()[0])


def test_down_from_the_operators_server_is_what_the_kernel_carried():
    before = loopback_bytes()
    with operator() as card_url:
        http = http_engine()
        urls = transfer_urls(card_url, read_card(http, card_url, None, 5))
        seen = assert_whole(
            measure(urls[Direction.DOWN], Direction.DOWN, http=http), CountedBy.CLIENT
        )
    carried = loopback_bytes() - before
    assert seen.ended is Ended.DATA
    assert sum(seen.slice_bytes) <= carried
    # IPv4 and TCP with timestamps: RFC 791 §3.1, RFC 9293 §3.1, RFC 7323 appendix A.
    assert seen.header_bytes == 20 + 20 + 12


def test_up_to_the_operators_server_agrees_with_its_own_count():
    with operator(token="t0ken") as card_url:
        http = http_engine()
        card = read_card(http, card_url, "t0ken", 5)
        url = transfer_urls(card_url, card)[Direction.UP]
        before = loopback_bytes()
        measured = measure(url, Direction.UP, http=http, token="t0ken")
        carried = loopback_bytes() - before
        run = url.partition("run=")[2]
        receipt = upload_receipt(http, card_url, card, run, "t0ken", within_s=5)
    seen = assert_whole(measured, CountedBy.ACKNOWLEDGED)
    assert seen.server_bytes == receipt.bytes
    # What was acknowledged up to the last look has arrived; what was under way came after it.
    assert sum(seen.slice_bytes) <= receipt.bytes <= carried
    assert seen.congestion_control


def test_the_smallest_bodies_of_a_server_are_asked_for_again_and_again():
    with operator(max_bytes=1_500_000) as card_url:
        urls = transfer_urls(card_url, read_card(http_engine(), card_url, None, 5))
        seen = assert_whole(measure(urls[Direction.DOWN], Direction.DOWN), CountedBy.CLIENT)
    assert min(seen.flow_bytes) > 1_500_000


def test_a_wrong_token_is_told_and_nothing_is_measured():
    with operator(token="right") as card_url:
        urls = transfer_urls(card_url, read_card(http_engine(), card_url, "right", 5))
        for direction in (Direction.DOWN, Direction.UP):
            measured = measure(urls[direction], direction, token="wrong")
            assert (measured.state, measured.reason.code) == (State.FAILED, "bad-reply")
            assert "401" in measured.reason.values["problem"]


def test_a_server_without_a_free_turn_says_how_long_to_wait():
    with operator(max_flows=1) as card_url:
        urls = transfer_urls(card_url, read_card(http_engine(), card_url, None, 5))
        measured = measure(urls[Direction.DOWN], Direction.DOWN)
        assert measured.reason.code == "server-busy"
        assert measured.reason.values["wait_s"] >= 1


def test_nginx_gives_a_static_file(tmp_path):
    with nginx(tmp_path) as base:
        seen = assert_whole(measure(f"{base}/big", Direction.DOWN), CountedBy.CLIENT)
    assert not seen.secure


def test_nginx_takes_a_file_per_flow_in_repeated_bodies(tmp_path):
    with nginx(tmp_path) as base:
        # Enough for the slowest: one busy worker does not serve all connections alike.
        many = {"body_bytes": 4_000_000, "max_bytes": 5 * CAP}
        measured = measure(f"{base}/put/", Direction.UP, **many)
        seen = assert_whole(measured, CountedBy.ACKNOWLEDGED)
        stored = list((tmp_path / "put").iterdir())
    assert min(seen.flow_bytes) > 4_000_000
    assert len(stored) == PLAN.flows
    assert {path.stat().st_size for path in stored} == {4_000_000}


def test_what_is_sent_does_not_compress(tmp_path):
    import zlib

    with nginx(tmp_path) as base:
        measure(f"{base}/put/", Direction.UP, body_bytes=1_048_576, max_bytes=10_000_000)
        body = next((tmp_path / "put").iterdir()).read_bytes()
    # One buffer of 128 KiB repeats: farther apart than deflate's window (RFC 1951 §2: 32 KiB).
    assert len(zlib.compress(body)) > 0.99 * len(body)


def test_an_answer_before_the_body_does_not_end_the_count(tmp_path):
    with nginx(tmp_path) as base:
        measured = measure(f"{base}/early/", Direction.UP, body_bytes=64_000_000)
    seen = assert_whole(measured, CountedBy.ACKNOWLEDGED)
    assert sum(seen.slice_bytes) > CAP / 3


def test_a_body_that_is_refused_measures_nothing(tmp_path):
    with nginx(tmp_path) as base:
        measured = measure(f"{base}/small/", Direction.UP)
    assert measured.state is State.FAILED
    assert measured.reason.code in {"bad-reply", "closed-early"}


def test_a_file_that_is_not_there_is_told(tmp_path):
    with nginx(tmp_path) as base:
        measured = measure(f"{base}/absent", Direction.DOWN)
    assert (measured.state, measured.reason.code) == (State.FAILED, "bad-reply")
    assert "404" in measured.reason.values["problem"]


def test_a_page_too_short_to_time_is_no_slow_line(tmp_path):
    with nginx(tmp_path) as base:
        measured = measure(f"{base}/page", Direction.DOWN)
    assert (measured.state, measured.reason.code) == (State.FAILED, "bad-reply")
    assert "too short" in measured.reason.values["problem"]


@pytest.mark.parametrize("direction", [Direction.DOWN, Direction.UP])
def test_tls_counts_plain_octets(tmp_path, authority, direction):
    context = ssl.create_default_context()
    authority.configure_trust(context)
    with nginx(tmp_path, certificate=authority.issue_cert("www.tern.example")) as base:
        url = base.replace("127.0.0.1", "www.tern.example")
        path = "/big" if direction is Direction.DOWN else "/put/"
        http = http_engine(context)
        assert http.fetch(HttpRequest(url=f"{url}/page"), within_s=5).checked().tls_ms > 0
        measured = measure(url + path, direction, http=http, body_bytes=2_000_000)
        stored = {path.stat().st_size for path in (tmp_path / "put").iterdir()}
    assert measured.state is State.COMPLETE, measured.reason
    assert measured.observed.secure
    assert sum(measured.observed.slice_bytes) > CAP / 3
    assert stored == ({2_000_000} if direction is Direction.UP else set())


def test_an_expired_certificate_lets_nothing_start(tmp_path, authority):
    from datetime import UTC, datetime, timedelta

    context = ssl.create_default_context()
    authority.configure_trust(context)
    old = authority.issue_cert("www.tern.example", not_after=datetime.now(UTC) - timedelta(days=1))
    with nginx(tmp_path, certificate=old) as base:
        url = base.replace("127.0.0.1", "www.tern.example")
        measured = measure(f"{url}/big", Direction.DOWN, http=http_engine(context))
    assert (measured.state, measured.reason.code) == (State.FAILED, "tls-fault")


PAUSE_S = 0.4
OPENED = b"HTTP/1.1 200 OK\r\nContent-Length: 9000000\r\n\r\n"


def then(*parts, stay=False):
    """Return a handler that answers the opening HEAD, then the transfer's request by parts."""

    def handle(server, sock):
        server.head(sock)
        sock.sendall(OPENED)
        server.head(sock)
        for part in parts:
            sock.sendall(part)
            server.ending.wait(PAUSE_S if part is MEBI else 0)
        if stay:
            server.ending.wait(WAIT_S)

    return handle


GIGA = b"HTTP/1.1 200 OK\r\nContent-Length: 1000000000\r\n\r\n"
MEBI = b"x" * 1_048_576

DOWN_FAULTS = {
    "never answers": (then(stay=True), State.FAILED, "timed-out"),
    "garbage": (then(b"\x00" * 100 + b"\r\n\r\n"), State.FAILED, "bad-reply"),
    "closes at once": (then(), State.FAILED, "closed-early"),
    "compressed": (
        then(b"HTTP/1.1 200 OK\r\nContent-Length: 9000000\r\nContent-Encoding: gzip\r\n\r\n"),
        State.FAILED,
        "bad-reply",
    ),
    "no length": (then(b"HTTP/1.1 200 OK\r\n\r\n", MEBI), State.FAILED, "bad-reply"),
    "redirect": (
        then(b"HTTP/1.1 302 Found\r\nLocation: /\r\nContent-Length: 0\r\n\r\n"),
        State.FAILED,
        "bad-reply",
    ),
    "closes in the middle": (then(GIGA, MEBI, MEBI, MEBI), State.PARTIAL, "closed-early"),
    "stalls in the middle": (then(GIGA, MEBI, MEBI, MEBI, stay=True), State.PARTIAL, "timed-out"),
    "head without end": (
        then(b"HTTP/1.1 200 OK\r\nA: " + b"b" * 4_000_000),
        State.FAILED,
        "bad-reply",
    ),
}


@pytest.mark.parametrize(("handle", "state", "code"), DOWN_FAULTS.values(), ids=DOWN_FAULTS)
def test_a_download_that_goes_wrong_is_told_within_seconds(scripted, handle, state, code):
    plan = PLAN.model_copy(update={"seconds": 10.0})
    url = scripted(handle).url("/big")
    measured = measure(url, Direction.DOWN, plan=plan, max_bytes=10**9)
    assert (measured.state, measured.reason.code) == (state, code)
    assert measured.duration_s < 5
    if state is State.PARTIAL:
        assert sum(measured.observed.slice_bytes) == 3 * PLAN.flows * len(MEBI)
        assert measured.observed.slice_bytes[-1] > 0


# A server by script carries for a good second; what strikes a transfer is told within 5 s.
PAUSES, CARRIED_S, TOLD_WITHIN_S = 90, 1.5, 5.0
NO_HEAD = b"HTTP/1.1 405 No\r\nContent-Length: 0\r\n\r\n"


def taking(answer, *, pauses=0, stay=False):
    """Return a handler that takes an upload for some time, then answers and closes or stays."""

    def handle(server, sock):
        server.head(sock)
        sock.sendall(NO_HEAD)
        server.head(sock)
        for _ in range(pauses):
            sock.recv(65_536)
            server.ending.wait(0.01)
        sock.sendall(answer)
        if stay:
            server.ending.wait(WAIT_S)

    return handle


FULL = b"HTTP/1.1 507 Insufficient Storage\r\nContent-Length: 0\r\n\r\n"

UP_FAULTS = {
    "closes at once": (taking(b""), State.FAILED, "closed-early"),
    "refuses at once": (taking(FULL, stay=True), State.FAILED, "bad-reply"),
    "closes in the middle": (taking(b"", pauses=PAUSES), State.PARTIAL, "closed-early"),
    "refuses in the middle": (taking(FULL, pauses=PAUSES, stay=True), State.PARTIAL, "bad-reply"),
    "stops reading": (taking(b"", pauses=PAUSES, stay=True), State.PARTIAL, "timed-out"),
    "garbage": (taking(b"\0" * 50 + b"\r\n\r\n", stay=True), State.FAILED, "bad-reply"),
}


@pytest.mark.parametrize(("handle", "state", "code"), UP_FAULTS.values(), ids=UP_FAULTS)
def test_an_upload_that_goes_wrong_is_told_within_seconds(scripted, handle, state, code):
    plan = PLAN.model_copy(update={"seconds": 10.0})
    measured = measure(scripted(handle).url("/put/"), Direction.UP, plan=plan, max_bytes=10**9)
    assert (measured.state, measured.reason.code) == (state, code)
    assert measured.duration_s < CARRIED_S + TOLD_WITHIN_S


def test_a_server_that_is_full_in_the_middle_is_told_by_its_status(scripted):
    plan = PLAN.model_copy(update={"seconds": 10.0})
    url = scripted(taking(FULL, pauses=PAUSES, stay=True)).url("/put/")
    measured = measure(url, Direction.UP, plan=plan, max_bytes=10**9)
    seen = measured.observed
    assert measured.state is State.PARTIAL
    # RFC 4918 §11.5: 507 Insufficient Storage.
    assert "507" in measured.reason.values["problem"]
    assert seen.ended is Ended.FAULT
    told_s = measured.duration_s - (seen.began_s - measured.started_s) - seen.slice_end_s[-1]
    assert told_s < TOLD_WITHIN_S


def test_no_server_refuses():
    with pytest.raises(DoorstepError) as told:
        http_engine().open("http://127.0.0.1:1/", token=None, within_s=2)
    assert told.value.code == "refused"
    measured = measure("http://127.0.0.1:1/x", Direction.DOWN)
    assert (measured.state, measured.reason.code) == (State.FAILED, "refused")


def test_no_thread_is_left_behind(tmp_path):
    with nginx(tmp_path) as base:
        measure(f"{base}/big", Direction.DOWN)
        measure(f"{base}/put/", Direction.UP)
    assert not [thread for thread in threading.enumerate() if thread.name == "bulk-flow"]


def test_a_flow_runs_from_the_moment_it_is_begun(tmp_path):
    # A sampler looks again at once: a flow whose thread has not woken yet is no dead one.
    with nginx(tmp_path) as base:
        flow = BulkEngine(http_engine()).open(
            FlowOrder(direction=Direction.DOWN, url=f"{base}/big"), within_s=5
        )
        while flow.reading().phase is FlowPhase.OPENING:
            threading.Event().wait(0.001)
        assert flow.reading().phase is FlowPhase.READY
        flow.begin()
        assert flow.reading().phase is FlowPhase.RUNNING
        flow.stop(1)
        flow.finish()
        assert flow.reading().phase is FlowPhase.ENDED
