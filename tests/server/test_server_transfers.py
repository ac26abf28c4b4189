"""Bodies on loopback: exact counts, incompressible data, half-closed uploads, receipts, limits."""

import json
import socket
import zlib

import pytest

from agent.codec.card import parse_receipt
from agent.server.app import Patience

pytestmark = pytest.mark.loopback

RUN = "00112233445566778899aabbccddeeff"


def put(length, run=RUN, extra=""):
    target = f"/upload?run={run}"
    return f"PUT {target} HTTP/1.1\r\nHost: x\r\nContent-Length: {length}\r\n{extra}\r\n".encode()


def read_head(plain):
    """Return one answer head; what follows stays on the socket."""
    head = b""
    while not head.endswith(b"\r\n\r\n"):
        byte = plain.recv(1)
        assert byte, head
        head += byte
    return head


def take(plain, count):
    while count > 0:
        count -= len(plain.recv(min(count, 65_536)))


def until_received(serving, run, count):
    """Ask for the receipt until the server has counted so many bytes."""
    for _ in range(10_000):
        status, _, document = serving.ask("GET", f"/receipts?run={run}")
        if status == 200 and document["bytes"] == count:
            return
    pytest.fail(f"{count} bytes never arrived")


@pytest.mark.parametrize("count", [0, 1, 1_000, 16 * 2**20 - 1, 40_000_000])
def test_a_download_brings_exactly_the_bytes_asked_for(common, count):
    connection = common.connect()
    connection.request("GET", f"/download?bytes={count}")
    answer = connection.getresponse()
    assert answer.getheader("Content-Length") == str(count)
    assert answer.getheader("Content-Encoding") is None
    assert "no-transform" in answer.getheader("Cache-Control")
    assert len(answer.read()) == count
    connection.request("GET", "/card")
    assert connection.getresponse().status == 200


def test_a_download_cannot_be_compressed_and_two_of_them_differ(common):
    def body():
        connection = common.connect()
        connection.request("GET", "/download?bytes=2000000")
        return connection.getresponse().read()

    first, second = body(), body()
    assert len(zlib.compress(first, 9)) >= len(first)
    assert len(zlib.compress(first + second, 9)) >= len(first + second)
    assert first[:64] != second[:64]


def test_a_download_beyond_the_limit_is_cut_and_says_so(start):
    serving = start(max_bytes=5_000)
    for target in ("/download?bytes=100000", "/download"):
        connection = serving.connect()
        connection.request("GET", target)
        answer = connection.getresponse()
        assert answer.getheader("Content-Length") == "5000"
        assert len(answer.read()) == 5_000


def test_head_of_a_download_names_the_length_and_takes_no_turn(common):
    connection = common.connect()
    connection.request("HEAD", "/download?bytes=123456789")
    answer = connection.getresponse()
    assert (answer.status, answer.getheader("Content-Length")) == (200, "123456789")
    assert answer.read() == b""
    assert common.ask("GET", "/card")[0] == 200


def test_a_client_that_closes_in_mid_download_leaves_no_fault_behind(start):
    serving = start()
    plain = serving.socket()
    plain.sendall(b"GET /download?bytes=5000000000 HTTP/1.1\r\nHost: x\r\n\r\n")
    take(plain, 1_000_000)
    plain.close()
    serving.logged("of 5000000000 bytes")
    serving.logged("gone: ")
    assert not any("fault" in line for line in serving.log)
    assert serving.ask("GET", "/card")[2]["load"]["transfers"] == 0


@pytest.mark.parametrize("count", [0, 1, 4_096, 30_000_001])
def test_an_upload_is_counted_to_the_byte_and_the_connection_kept(common, count):
    connection = common.connect()
    run = f"{count:032x}"
    connection.request("PUT", f"/upload?run={run}", body=bytes(count))
    receipt = parse_receipt(connection.getresponse().read())
    assert (receipt.bytes, receipt.complete) == (count, True)
    connection.request("GET", f"/receipts?run={run.upper()}")
    assert parse_receipt(connection.getresponse().read()) == receipt


def test_post_uploads_like_put_and_a_run_is_not_needed(common):
    status, _, document = common.ask("POST", "/upload", body=b"12345")
    assert (status, document["bytes"], document["complete"]) == (200, 5, True)


def test_an_upload_is_not_answered_before_its_body_has_ended(common):
    plain, run = common.socket(), "dd" * 16
    plain.sendall(put(1_000_000, run) + bytes(999_999))
    until_received(common, run, 999_999)
    plain.setblocking(False)
    with pytest.raises(BlockingIOError):
        plain.recv(1)
    plain.settimeout(20)
    plain.sendall(b"\0")
    assert read_head(plain).startswith(b"HTTP/1.1 200")


def test_a_half_closed_upload_is_answered_with_what_came(common):
    run = "aa" * 16
    answer = common.raw(put(1_000_000, run) + bytes(600_000), end=True)
    head, _, body = answer.partition(b"\r\n\r\n")
    receipt = parse_receipt(body)
    assert (receipt.bytes, receipt.complete) == (600_000, False)
    assert b"Connection: close" in head
    assert common.ask("GET", f"/receipts?run={run}")[2]["complete"] is False


def test_an_upload_that_is_reset_keeps_its_count(start):
    serving = start()
    plain = serving.socket()
    plain.sendall(put(1_000_000) + bytes(300_000))
    until_received(serving, RUN, 300_000)
    plain.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
    plain.close()
    serving.logged("upload 300000 bytes, complete False")
    document = serving.ask("GET", f"/receipts?run={RUN}")[2]
    assert (document["bytes"], document["complete"]) == (300_000, False)


def test_the_flows_of_a_run_are_summed_and_their_tenths_add_up(common):
    run = "bb" * 16
    sizes = (3_000_000, 5_000_001, 7)
    for size in sizes:
        assert common.ask("PUT", f"/upload?run={run}", body=bytes(size))[0] == 200
    document = common.ask("GET", f"/receipts?run={run}")[2]
    receipt = parse_receipt(json.dumps(document).encode())
    assert receipt.bytes == sum(receipt.slices_100ms) == sum(sizes)
    assert (receipt.flows, receipt.complete) == (3, True)


def test_expect_continue_is_answered_before_the_body(common):
    plain = common.socket()
    plain.sendall(put(3, extra="Expect: 100-continue\r\n"))
    assert read_head(plain) == b"HTTP/1.1 100 Continue\r\n\r\n"
    plain.sendall(b"abc")
    assert read_head(plain).startswith(b"HTTP/1.1 200")


def test_a_request_pipelined_behind_an_upload_is_not_counted_into_it(common):
    last = b"GET /card HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
    answer = common.raw(put(3, "cc" * 16) + b"abc" + last)
    assert b'"bytes":3,' in answer
    assert answer.count(b"HTTP/1.1 200 OK") == 2


def test_an_upload_over_the_limit_is_refused_before_its_body(start):
    serving = start(max_upload_bytes=1_000)
    status, _, document = serving.ask("PUT", "/upload", body=bytes(1_001))
    assert (status, document["error"]["code"]) == (413, "too-large")


def test_more_flows_than_one_client_may_have_are_told_to_wait(start):
    serving = start(max_flows=2)
    held = [serving.socket() for _ in range(2)]
    for plain in held:
        plain.sendall(put(10) + b"abc")
    until_received(serving, RUN, 6)
    status, headers, document = serving.ask("GET", "/download?bytes=1")
    assert (status, document["error"]["code"]) == (503, "too-many-flows")
    assert int(headers["Retry-After"]) >= document["error"]["wait_s"] >= 1
    for plain in held:
        plain.sendall(b"defghij")
        assert read_head(plain).startswith(b"HTTP/1.1 200")
    assert serving.ask("PUT", "/upload", body=b"x")[0] == 200


def test_a_second_client_waits_for_the_first_and_is_served_after_it(start):
    serving = start(host="0.0.0.0", max_clients=1, patience=Patience(hold_s=0.0))
    first = serving.socket()
    first.sendall(put(4) + b"abc")
    until_received(serving, RUN, 3)
    asked = b"GET %s HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
    second = serving.raw(asked % b"/download?bytes=1", source="127.0.0.2")
    assert second.startswith(b"HTTP/1.1 503")
    assert b'"code":"busy"' in second
    assert b"Retry-After: " in second
    card = json.loads(serving.raw(asked % b"/card", source="127.0.0.2").split(b"\r\n\r\n")[1])
    assert card["load"]["wait_s"] >= 1
    assert (card["load"]["clients"], card["load"]["transfers"]) == (1, 1)
    assert card["seen"]["address"] == "127.0.0.2"
    first.sendall(b"d")
    assert read_head(first).startswith(b"HTTP/1.1 200")
    serving.logged("upload 4 bytes, complete True")
    again = serving.raw(asked % b"/download?bytes=1", source="127.0.0.2")
    assert again.startswith(b"HTTP/1.1 200")
