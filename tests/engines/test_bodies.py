"""Heads, answers and error translation on bare sockets."""

import errno
import socket
import ssl
import threading
from contextlib import contextmanager, suppress
from itertools import pairwise

import h11
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.clock import ManualClock
from agent.codec.tcp_info import TcpInfo
from agent.engines.bodies import (
    DEFAULT_WAIT_S,
    MAX_ANSWER_BYTES,
    MAX_HEAD_BYTES,
    MOST_WAITING_BYTES,
    RETUNE_S,
    AnswerReader,
    Answers,
    BodySizes,
    Drain,
    Head,
    SendQueue,
    incompressible,
    poll_ready,
    select_ready,
)
from agent.engines.connecting import Deadline, translate
from agent.engines.tcp_counters import header_bytes
from agent.errors import BadReply, ClosedEarly, ServerBusy, TimedOut

ADDRESS = "192.0.2.80"
BODY = b"z" * 100


def read(*pieces):
    reader = AnswerReader("GET", ADDRESS)
    for piece in pieces:
        answer = reader.feed(piece)
        if answer is not None:
            return answer
    return None


def test_a_request_head_is_what_a_server_reads():
    head = Head(
        method="PUT",
        target="/a?b=c",
        authority="tern.example:81",
        agent="us",
        token="t",
        body_bytes=7,
    )
    server = h11.Connection(h11.SERVER)
    server.receive_data(head.encode())
    request = server.next_event()
    fields = dict(request.headers)
    assert (request.method, request.target) == (b"PUT", b"/a?b=c")
    assert fields[b"host"] == b"tern.example:81"
    assert fields[b"content-length"] == b"7"
    assert fields[b"authorization"] == b"Bearer t"
    assert fields[b"accept-encoding"] == b"identity"
    assert server.next_event() is h11.NEED_DATA


ANSWER = (
    b"HTTP/1.1 100 Continue\r\n\r\nHTTP/1.1 200 OK\r\nContent-Length: 1000\r\n"
    b"Connection: keep-alive\r\n\r\n"
)


@given(st.lists(st.integers(1, len(ANSWER + BODY) - 1), max_size=6))
def test_an_answer_reads_the_same_however_it_is_cut(cuts):
    whole = ANSWER + BODY
    places = [0, *sorted(set(cuts)), len(whole)]
    pieces = [whole[a:b] for a, b in pairwise(places)]
    answer = read(*pieces)
    assert (answer.status, answer.length, answer.keeps_open) == (200, 1000, True)
    assert BODY.startswith(answer.early)
    assert answer.early_bytes == len(answer.early)


def test_body_octets_that_came_with_the_head_are_counted():
    assert read(ANSWER + BODY).early == BODY


@given(st.binary(min_size=1, max_size=300))
def test_any_octets_are_an_answer_or_an_error_of_ours(data):
    try:
        answer = read(data, b"")
    except (BadReply, ClosedEarly):
        return
    assert answer is not None


def test_a_head_without_end_is_refused_at_its_limit():
    with pytest.raises(BadReply):
        read(b"HTTP/1.1 200 OK\r\n", *[b"A: " + b"b" * 900 + b"\r\n"] * (MAX_HEAD_BYTES // 800))


@pytest.mark.parametrize(
    ("field", "wait_s"),
    [
        ("Retry-After: 12", 12),
        ("Retry-After: soon", DEFAULT_WAIT_S),
        ("Retry-After: " + "9" * 5000, DEFAULT_WAIT_S),
        ("X: y", DEFAULT_WAIT_S),
    ],
)
def test_a_busy_answer_says_how_long(field, wait_s):
    answer = read(f"HTTP/1.1 503 Busy\r\n{field}\r\nContent-Length: 0\r\n\r\n".encode())
    with pytest.raises(ServerBusy) as told:
        answer.refuse(ADDRESS)
    assert told.value.fields["wait_s"] == wait_s


@pytest.mark.parametrize("status", [206, 302, 404, 507])
def test_only_success_is_success(status):
    answer = read(f"HTTP/1.1 {status} X\r\nContent-Length: 0\r\n\r\n".encode())
    if status == 206:
        answer.refuse(ADDRESS)
    else:
        with pytest.raises(BadReply):
            answer.refuse(ADDRESS)


TRANSLATIONS = [
    (ConnectionRefusedError(), "refused"),
    (TimeoutError(), "timed-out"),
    (ConnectionResetError(), "closed-early"),
    (BrokenPipeError(), "closed-early"),
    (OSError(errno.ENETUNREACH, ""), "no-route"),
    (OSError(errno.EHOSTUNREACH, ""), "no-route"),
    (OSError(errno.EADDRNOTAVAIL, ""), "no-address"),
    (OSError(errno.ENETDOWN, ""), "interface-down"),
    (PermissionError(errno.EPERM, ""), "right-missing"),
    (ssl.SSLEOFError(8, "EOF"), "tls-fault"),
    (OSError(errno.EPROTO, "odd"), "bad-reply"),
]


@pytest.mark.parametrize(("error", "code"), TRANSLATIONS, ids=str)
def test_every_error_of_the_system_has_one_of_ours(error, code):
    ours = translate(error, ADDRESS, after_s=2.0, count=5)
    assert ours.code == code
    assert ours.sentence()


def test_a_deadline_hands_out_what_is_left_of_it():
    clock = ManualClock()
    deadline = Deadline(clock, 2.0)
    clock.sleep(1.5)
    assert deadline.left_s(ADDRESS) == pytest.approx(0.5)
    clock.sleep(0.5)
    with pytest.raises(TimedOut):
        deadline.left_s(ADDRESS)


@pytest.mark.parametrize(
    ("options", "family", "octets"),
    [(1, 4, 52), (0, 4, 40), (7, 6, 72), (6, 6, 60), (None, 4, None)],
)
def test_header_octets_of_a_full_segment(options, family, octets):
    # Sums of RFC 791 §3.1, RFC 8200 §3, RFC 9293 §3.1 and RFC 7323 appendix A.
    assert header_bytes(TcpInfo(options=options), family) == octets


def test_what_is_sent_has_eight_bits_in_every_octet():
    counts = [0] * 256
    for octet in incompressible():
        counts[octet] += 1
    mean = len(incompressible()) / 256
    # Chi-square with 255 degrees of freedom passes 400 about once in 10^8 (from memory).
    assert sum((count - mean) ** 2 / mean for count in counts) < 400


@contextmanager
def connected():
    """Yield both ends of a TCP connection on loopback."""
    with (
        socket.create_server(("127.0.0.1", 0)) as listener,
        socket.create_connection(listener.getsockname(), 10) as client,
    ):
        server, _ = listener.accept()
        client.settimeout(None)
        with server:
            yield client, server


@pytest.mark.loopback
@pytest.mark.parametrize("sizes", [[1], [5, 70_000, 3], [300_000] * 3])
def test_a_drain_counts_every_octet_and_stops_at_its_number(sizes):
    total, counted = sum(sizes), []
    with connected() as (client, server):
        data = b"x" * (total + 4)
        sending = threading.Thread(target=server.sendall, args=(data,))
        sending.start()
        assert Drain(client, counted.append, ManualClock().monotonic_s).run(total) == 0
        sending.join(10)
        assert sum(counted) == total
        assert client.recv(10) == b"xxxx"


@pytest.mark.loopback
def test_a_drain_tells_what_was_missing():
    with connected() as (client, server):
        server.sendall(b"x" * 30)
        server.shutdown(socket.SHUT_WR)
        assert Drain(client, lambda _got: None, ManualClock().monotonic_s).run(100) == 70


@pytest.mark.loopback
@pytest.mark.parametrize("ready", [poll_ready, lambda sock: lambda s: select_ready(sock, s)])
def test_what_a_sender_waits_for_is_told_alike_by_poll_and_select(ready):
    with connected() as (client, server):
        look = ready(client)
        assert look(10) == (False, True)
        client.settimeout(0)
        while look(0)[1]:
            with suppress(BlockingIOError):
                client.send(bytes(1 << 20))
        assert not look(0)[0]
        server.sendall(b"told")
        assert look(10)[0]


def ticking(clock, told):
    """Return what notes octets that arrived, each time after as long as a drain needs to tune."""

    def arrived(count):
        clock.sleep(RETUNE_S)
        told(count)

    return arrived


@pytest.mark.loopback
def test_few_octets_after_many_are_told_though_no_more_come():
    clock, came, counted = ManualClock(), threading.Event(), []
    many = 8 * MOST_WAITING_BYTES

    def note(count):
        counted.append(count)
        if sum(counted) == many + 3:
            came.set()

    with connected() as (client, server):
        drain = Drain(client, ticking(clock, note), clock.monotonic_s)
        draining = threading.Thread(target=drain.run, args=(many + 4,))
        draining.start()
        server.sendall(bytes(many))
        server.sendall(b"few")
        assert came.wait(10)
        server.shutdown(socket.SHUT_WR)
        draining.join(10)


@pytest.mark.loopback
def test_after_a_body_a_single_octet_wakes_a_reader_again():
    clock, many = ManualClock(), 8 * MOST_WAITING_BYTES
    with connected() as (client, server):
        sending = threading.Thread(target=server.sendall, args=(bytes(many),))
        sending.start()
        Drain(client, ticking(clock, lambda _got: None), clock.monotonic_s).run(many)
        sending.join(10)
        assert client.getsockopt(socket.SOL_SOCKET, socket.SO_RCVLOWAT) == 1
        server.sendall(b"h")
        client.settimeout(10)
        assert client.recv(10) == b"h"


RECEIPTS = [b"{}", b"", b"x" * 300]
ROW = b"".join(
    b"HTTP/1.1 201 Created\r\nContent-Length: %d\r\n\r\n%s" % (len(body), body) for body in RECEIPTS
)


@given(st.lists(st.integers(1, len(ROW) - 1), max_size=8))
def test_answers_to_requests_sent_ahead_come_in_order_however_cut(cuts):
    heard = []
    answers = Answers("PUT", ADDRESS, lambda answer, body: heard.append((answer.status, body)))
    for _ in RECEIPTS:
        answers.expect()
    places = [0, *sorted(set(cuts)), len(ROW)]
    for a, b in pairwise(places):
        answers.feed(ROW[a:b])
    assert heard == [(201, body) for body in RECEIPTS]
    assert answers.missing == 0


@pytest.mark.parametrize(
    ("text", "error"),
    [
        (b"", ClosedEarly),
        (b"HTTP/1.1 201 X\r\nContent-Length: 0\r\n\r\n" * 2, BadReply),
        (b"HTTP/1.1 507 Full\r\nContent-Length: 0\r\n\r\n", BadReply),
        (b"HTTP/1.1 503 Busy\r\nContent-Length: 0\r\n\r\n", ServerBusy),
        (b"HTTP/1.1 200 X\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n", BadReply),
        (b"HTTP/1.1 200 X\r\n\r\n" + b"y" * (MAX_ANSWER_BYTES + 1), BadReply),
    ],
)
def test_what_is_no_answer_to_an_upload_is_refused(text, error):
    answers = Answers("PUT", ADDRESS, lambda _answer, _body: None)
    answers.expect()
    with pytest.raises(error):
        answers.feed(text)


class Options:
    """A socket that keeps what was set."""

    def __init__(self):
        self.sizes = []

    def setsockopt(self, _level, _option, value):
        self.sizes.append(value)


@pytest.mark.parametrize(
    ("bits_per_s", "least", "most"),
    [(5e6, 32_768, 32_768), (100e6, 62_500, 250_000), (1e9, 625_000, 1_048_576)],
)
def test_what_waits_unsent_is_some_ms_of_the_rate(bits_per_s, least, most):
    clock, sock = ManualClock(), Options()
    queue = SendQueue(sock, clock.monotonic_s)
    for _ in range(100):
        clock.sleep(0.01)
        queue.sent(int(bits_per_s / 8 * 0.01))
    assert least <= queue.waiting_bytes <= most
    assert sock.sizes in ([], [queue.waiting_bytes], [32_768, queue.waiting_bytes])


MB = 1_000_000


@pytest.mark.parametrize(
    ("bytes_per_s", "sized"),
    [(0.5 * MB, 1 * MB), (20 * MB, 2 * MB), (200 * MB, 20 * MB), (5_000 * MB, 64 * MB)],
)
def test_a_body_grows_to_a_time_of_the_rate_within_its_bounds(bytes_per_s, sized):
    clock, seen = ManualClock(), []
    sizes = BodySizes(1 * MB, 64 * MB, 0.1, clock.monotonic_s)
    until_s = clock.monotonic_s() + 20
    while clock.monotonic_s() < until_s:
        seen.append(sizes.next_bytes)
        clock.sleep(seen[-1] / bytes_per_s)
        sizes.answered(seen[-1])
    assert seen[0] == 1 * MB
    assert seen[-1] == pytest.approx(sized, rel=0.01)
    assert all(later <= 2 * earlier for earlier, later in pairwise(seen))


def test_a_stated_length_is_kept():
    clock = ManualClock()
    sizes = BodySizes(8 * MB, 3 * MB, 0.1, clock.monotonic_s)
    for _ in range(10):
        clock.sleep(0.2)
        sizes.answered(3 * MB)
        assert sizes.next_bytes == 3 * MB
