"""The card, the small routes, the token, and what is refused."""

import json
import socket
import threading
from datetime import UTC, datetime, timedelta

import pytest

from agent.clock import ManualClock
from agent.codec.card import parse_card, parse_refusal
from agent.errors import UsageError
from agent.server.app import ServeOptions, serve

pytestmark = pytest.mark.loopback


def test_the_card_tells_everything_an_agent_needs(start):
    serving = start(server_id="tern-bay-1", max_seconds=30, max_bytes=10**9, max_clients=7)
    connection = serving.connect()
    connection.request("GET", "/card")
    card = parse_card(connection.getresponse().read())
    assert card.server_id == "tern-bay-1"
    assert card.reflector_port == serving.address.reflector_port
    assert (card.limits.seconds, card.limits.bytes, card.limits.clients) == (30, 10**9, 7)
    assert (card.seen.address, card.seen.port) == connection.sock.getsockname()
    assert (card.load.transfers, card.load.clients, card.load.wait_s) == (0, 0, 0)
    assert card.token_required is False
    told = datetime.fromisoformat(card.time)
    assert abs(told - datetime.now(UTC)) < timedelta(minutes=1)


def test_head_gives_the_length_and_no_body(common):
    answer = common.raw(b"HEAD /card HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
    head, _, body = answer.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 200 OK\r\n")
    assert b"Content-Length: " in head
    assert body == b""


def test_one_connection_carries_many_requests_and_pipelined_ones(common):
    request = b"GET /card HTTP/1.1\r\nHost: x\r\n\r\n"
    last = b"GET /card HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
    assert common.raw(request * 3 + last).count(b"HTTP/1.1 200 OK") == 4


def test_http_1_0_is_answered_and_closed(common):
    assert b"Connection: close" in common.raw(b"GET /card HTTP/1.0\r\n\r\n")


def test_a_target_in_absolute_form_is_understood(common):
    # RFC 9112 §3.2.2: a server MUST accept the absolute-form.
    answer = common.raw(b"GET http://x/card HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
    assert answer.startswith(b"HTTP/1.1 200 OK")


REFUSED = [
    ("GET", "/", 404, "no-such-path"),
    ("GET", "/../../etc/passwd", 404, "no-such-path"),
    ("GET", "/card/..%2f..%2fetc/passwd", 404, "no-such-path"),
    ("GET", "/card%00", 404, "no-such-path"),
    ("GET", "//card", 404, "no-such-path"),
    ("GET", "/<script>alert(1)</script>", 404, "no-such-path"),
    ("POST", "/card", 405, "no-such-method"),
    ("DELETE", "/download", 405, "no-such-method"),
    ("BREW", "/upload", 405, "no-such-method"),
    ("GET", "/download?bytes=-1", 400, "bad-bytes"),
    ("GET", "/download?bytes=1e9", 400, "bad-bytes"),
    ("GET", "/download?bytes=" + "9" * 400, 400, "bad-bytes"),
    ("GET", "/receipts", 404, "no-such-run"),
    ("GET", "/receipts?run=00000000", 404, "no-such-run"),
    ("GET", "/receipts?run=../../x", 400, "bad-run"),
    ("GET", "/receipts?" + "&".join(f"{c}=1" for c in "abcdefghi"), 400, "bad-query"),
    ("GET", "/reflector?session=no", 404, "no-such-session"),
    ("DELETE", "/reflector", 404, "no-such-session"),
    ("PUT", "/upload?run=xyz", 400, "bad-run"),
]


@pytest.mark.parametrize(("method", "target", "status", "code"), REFUSED)
def test_what_is_not_offered_is_refused_with_a_code_and_nothing_reflected(
    common, method, target, status, code
):
    got, headers, document = common.ask(method, target)
    assert (got, document["error"]["code"]) == (status, code)
    assert headers["Content-Type"] == "application/json"
    assert "script" not in json.dumps(document)
    assert parse_refusal(json.dumps(document).encode()).code == code
    if status == 405:
        assert "GET" in headers["Allow"] or "PUT" in headers["Allow"]
    assert common.ask("GET", "/card")[0] == 200


HEADS = [
    (b"GET /card HTTP/1.1\r\nHost: x\r\nA: " + b"a" * 40_000 + b"\r\n\r\n", 431),
    (b"GET /" + b"a" * 40_000 + b" HTTP/1.1\r\nHost: x\r\n\r\n", 431),
    (b"GET /card HTTP/1.1\r\n" + b"A: b\r\n" * 5_000 + b"\r\n", 431),
    (b"GET /card HTTP/1.1\r\n\r\n", 400),
    (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", 400),
    (b"PUT /upload HTTP/1.1\r\nHost: x\r\nContent-Length: " + b"9" * 5_000 + b"\r\n\r\n", 400),
    (b"PUT /upload HTTP/1.1\r\nHost: x\r\nContent-Length: -5\r\n\r\n", 400),
    (b"PUT /upload HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\n", 400),
    (b"PUT /upload HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n", 411),
    (b"PUT /upload HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: gzip\r\n\r\n", 501),
    (b"PUT /upload HTTP/1.1\r\nHost: x\r\n\r\n", 411),
    (b"PUT /upload HTTP/1.1\r\nHost: x\r\nContent-Length: 999999999999999\r\n\r\n", 413),
    (b"GET /card HTTP/1.1\r\nHost: x\r\nContent-Length: 5000\r\n\r\n", 413),
    (b"POST /reflector HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n", 413),
]


@pytest.mark.parametrize(("data", "status"), HEADS)
def test_a_head_that_cannot_be_served_has_its_status_and_ends(common, data, status):
    answer = common.raw(data, end=True)
    assert answer.startswith(b"HTTP/1.1 %d " % status)
    assert answer.count(b"HTTP/1.1") == 1


def test_the_small_body_of_a_small_request_is_dropped_and_the_connection_kept(common):
    request = b"POST /reflector HTTP/1.1\r\nHost: x\r\nContent-Length: 2\r\n\r\n{}"
    last = b"GET /card HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
    answer = common.raw(request + last)
    assert answer.startswith(b"HTTP/1.1 201 Created")
    assert answer.count(b"HTTP/1.1 200 OK") == 1


TOKENS = [
    ({}, 401),
    ({"Authorization": "Bearer wrong"}, 401),
    ({"Authorization": "Bearer"}, 401),
    ({"Authorization": "Basic right"}, 401),
    ({"Authorization": "Bearer r\xefght"}, 401),
    ({"Authorization": "Bearer right"}, 404),
    ({"Authorization": "bearer right"}, 404),
]


def test_with_a_token_only_the_card_is_open(start):
    serving = start(token="right")
    for headers, status in TOKENS:
        assert serving.ask("GET", "/receipts?run=00000000", headers=headers)[0] == status
    assert serving.ask("PUT", "/upload", body=b"x")[0] == 401
    assert serving.ask("GET", "/download?bytes=1")[0] == 401
    refused, headers, _ = serving.ask("POST", "/reflector")
    assert (refused, headers["WWW-Authenticate"]) == (401, "Bearer")
    assert serving.ask("GET", "/card")[2]["token_required"] is True
    assert not any("right" in line for line in serving.log)


def test_a_large_upload_that_is_refused_still_gets_to_see_why(start):
    serving = start(token="right")
    status, _, document = serving.ask("PUT", "/upload", body=bytes(2_000_000))
    assert (status, document["error"]["code"]) == (401, "token")


def test_an_address_that_is_taken_is_one_sentence():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(UsageError, match=f"cannot listen on 127.0.0.1 port {port}"):
            serve(ServeOptions(host="127.0.0.1", port=port))


def test_a_reflector_port_that_is_taken_leaves_nothing_open():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        taken.bind(("127.0.0.1", 0))
        with pytest.raises(UsageError):
            serve(ServeOptions(host="127.0.0.1", reflector_port=taken.getsockname()[1]))


def test_the_wildcard_address_serves_ipv4_and_ipv6(start):
    serving = start(host="::")
    assert serving.ask("GET", "/card")[2]["seen"]["address"] == "127.0.0.1"
    if not socket.has_dualstack_ipv6():
        pytest.skip("this system has no sockets for both families")
    with socket.create_connection(("::1", serving.address.port), 10) as six:
        six.sendall(b"GET /card HTTP/1.0\r\n\r\n")
        answer = b"".join(iter(lambda: six.recv(4096), b""))
    assert parse_card(answer.partition(b"\r\n\r\n")[2]).seen.address == "::1"


def test_a_server_told_to_stop_ends_its_threads_with_clients_still_connected(start):
    before = set(threading.enumerate())
    serving = start()
    idle, half, reading, sending = (serving.socket() for _ in range(4))
    half.sendall(b"GET /card HTT")
    reading.sendall(b"GET /download?bytes=1000000000 HTTP/1.1\r\nHost: x\r\n\r\n")
    assert reading.recv(4096).startswith(b"HTTP/1.1 200")
    sending.sendall(b"PUT /upload HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\nabc")
    serving.end()
    assert set(threading.enumerate()) <= before
    assert idle.recv(1) == b""


def test_the_time_on_the_card_is_the_clocks(start):
    class Stopped(ManualClock):
        def monotonic_s(self):
            return 0.0

    serving = start(clock=Stopped())
    assert serving.ask("GET", "/card")[2]["time"] == "2026-03-02T09:00:00.000+00:00"
