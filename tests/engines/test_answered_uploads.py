"""Uploads where TCP tells nothing: counted by the bodies that a server answered whole."""

from itertools import accumulate

import pytest
from bulk_runs import PLAN, assert_whole, http_engine, measure
from loopback_servers import WAIT_S, nginx, operator

from agent.engines.bulk import TRIAL_BYTES
from agent.measurements import CountedBy, Direction, State
from agent.probes.server import read_card, transfer_urls

pytestmark = pytest.mark.loopback

NO_HEAD = b"HTTP/1.1 405 No\r\nContent-Length: 0\r\n\r\n"
CREATED = b"HTTP/1.1 201 Created\r\nContent-Length: 0\r\n\r\n"
FULL = b"HTTP/1.1 507 Insufficient Storage\r\nContent-Length: 0\r\n\r\n"
PIECE = 65_536
PAUSE_S = 0.003


def tells_nothing(_sock):
    return None


def upload(url, **chosen):
    return measure(url, Direction.UP, told=tells_nothing, max_bytes=10**9, **chosen)


class Shelf:
    """A file server by script: answers each body once it has come, and keeps the lengths.

    `early` is how many octets of a body it waits for, all where None; `room` how many octets of a
    connection it takes before it is full.
    """

    def __init__(self, early=None, room=10**12):
        self.early = early
        self.room = room
        self.connections = []

    def __call__(self, server, sock):
        server.head(sock)
        sock.sendall(NO_HEAD)
        lengths, rest = [], b""
        self.connections.append(lengths)
        while not server.ending.is_set():
            head, rest = self.head(sock, rest)
            length = int(head.lower().partition("content-length: ")[2].split()[0])
            if sum(lengths) > self.room:
                sock.sendall(FULL)
                server.ending.wait(WAIT_S)
            rest = self.body(server, sock, rest, length)
            lengths.append(length)
            if self.early is None:
                sock.sendall(CREATED)

    def head(self, sock, data):
        while b"\r\n\r\n" not in data:
            data += self.some(sock, PIECE)
        head, _, rest = data.partition(b"\r\n\r\n")
        return head.decode(), rest

    def body(self, server, sock, rest, length):
        got = len(rest)
        told = False
        while got < length:
            got += len(self.some(sock, min(PIECE, length - got)))
            if self.early is not None and got >= self.early and not told:
                sock.sendall(CREATED)
                told = True
            server.ending.wait(PAUSE_S)
        return rest[length:]

    def some(self, sock, most):
        data = sock.recv(most)
        if not data:
            raise ConnectionError
        return data


def test_whole_bodies_that_were_answered_are_the_count(scripted):
    shelf = Shelf()
    seen = assert_whole(upload(scripted(shelf).url("/put/")), CountedBy.ANSWERS)
    # What the server took, connection by connection, each without the body that tried it out.
    sums = [set(accumulate(lengths[1:])) for lengths in shelf.connections if lengths]
    assert all(any(count in known for known in sums) for count in seen.flow_bytes)
    assert {lengths[0] for lengths in shelf.connections if lengths} == {TRIAL_BYTES}
    assert sum(seen.slice_bytes) <= sum(map(sum, shelf.connections))
    assert seen.server_bytes is None


def test_bodies_grow_with_the_rate_and_stay_below_what_was_asked(scripted):
    shelf = Shelf()
    upload(scripted(shelf).url("/put/"), body_bytes=300_000)
    lengths = [length for lengths in shelf.connections for length in lengths]
    assert TRIAL_BYTES < max(lengths) <= 300_000


@pytest.mark.parametrize("early", [1, TRIAL_BYTES // 2, TRIAL_BYTES - 1])
def test_a_server_that_answers_before_it_has_the_body_counts_for_nothing(scripted, early):
    measured = upload(scripted(Shelf(early)).url("/put/"))
    assert (measured.state, measured.observed) == (State.FAILED, None)
    assert measured.reason.code == "bad-reply"
    assert "before the body" in measured.reason.values["problem"]


def test_a_real_server_that_answers_at_once_counts_for_nothing(tmp_path):
    with nginx(tmp_path) as base:
        measured = upload(f"{base}/early/")
    assert (measured.state, measured.reason.code) == (State.FAILED, "bad-reply")
    assert "before the body" in measured.reason.values["problem"]


def test_a_server_that_is_full_in_the_middle_leaves_what_it_took(scripted):
    plan = PLAN.model_copy(update={"seconds": 10.0})
    shelf = Shelf(room=20_000_000)
    measured = upload(scripted(shelf).url("/put/"), plan=plan)
    assert (measured.state, measured.reason.code) == (State.PARTIAL, "bad-reply")
    assert "507" in measured.reason.values["problem"]
    assert measured.observed.counted_by is CountedBy.ANSWERS
    assert sum(measured.observed.slice_bytes) <= sum(map(sum, shelf.connections))


def test_nginx_answers_what_it_has_stored(tmp_path):
    with nginx(tmp_path) as base:
        measured = upload(f"{base}/put/", body_bytes=1_000_000)
        assert_whole(measured, CountedBy.ANSWERS)
        stored = {path.stat().st_size for path in (tmp_path / "put").iterdir()}
    # A body lasts a moment of the rate, which a busy machine may bring below what was asked.
    assert TRIAL_BYTES <= min(stored) <= max(stored) <= 1_000_000


def test_a_server_that_keeps_receipts_counts_better():
    with operator() as card_url:
        http = http_engine()
        url = transfer_urls(card_url, read_card(http, card_url, None, 5))[Direction.UP]
        measured = upload(url, http=http)
    seen = measured.observed
    assert (measured.state, seen.counted_by) == (State.COMPLETE, CountedBy.SERVER)
    assert sum(seen.slice_bytes) == seen.server_bytes > 0
    # All of many bodies, not the last one alone.
    assert seen.server_bytes >= sum(seen.flow_bytes) > 0
