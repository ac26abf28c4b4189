"""Slow clients are shed, with deadlines short enough to wait for; quick ones are all served."""

import ssl
import threading

import psutil
import pytest
import trustme
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from agent.errors import UsageError
from agent.server.app import Patience, ServeOptions, serve

pytestmark = pytest.mark.loopback

ASK = b"GET /card HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"


def read_all(plain):
    parts = []
    while part := plain.recv(65_536):
        parts.append(part)
    return b"".join(parts)


def test_a_head_that_trickles_is_shed_at_an_absolute_deadline(start):
    serving = start(patience=Patience(head_s=0.2, linger_s=0.1))
    plain = serving.socket()
    plain.sendall(b"GET /card HTTP/1.1\r\n")
    assert read_all(plain).startswith(b"HTTP/1.1 408 ")
    serving.logged("refused 408 slow-head")


def test_an_idle_connection_is_closed_without_a_word(start):
    serving = start(patience=Patience(idle_s=0.1))
    assert read_all(serving.socket()) == b""


def test_a_reader_that_stops_is_shed(start):
    serving = start(patience=Patience(stall_s=0.3))
    plain = serving.socket()
    plain.sendall(b"GET /download?bytes=4000000000 HTTP/1.1\r\nHost: x\r\n\r\n")
    serving.logged("shed: too slow")
    assert len(read_all(plain)) < 4_000_000_000


def test_a_sender_that_stops_is_shed_without_an_answer_and_its_bytes_count(start):
    serving = start(patience=Patience(stall_s=0.2))
    plain = serving.socket()
    plain.sendall(b"PUT /upload?run=0011223344 HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\nabc")
    assert read_all(plain) == b""
    serving.logged("upload 3 bytes, complete False")
    assert serving.ask("GET", "/receipts?run=0011223344")[2]["bytes"] == 3


@pytest.mark.parametrize("direction", ["down", "up"])
def test_a_transfer_ends_at_its_time_even_when_it_moves(start, direction):
    serving = start(max_seconds=0.3)
    plain = serving.socket()
    if direction == "down":
        plain.sendall(b"GET /download?bytes=90000000000 HTTP/1.1\r\nHost: x\r\n\r\n")
        while plain.recv(1_048_576):
            pass
    else:
        plain.sendall(b"PUT /upload HTTP/1.1\r\nHost: x\r\nContent-Length: 90000000000\r\n\r\n")
        with pytest.raises(OSError):  # noqa: PT012 - whichever send meets the end
            while True:
                plain.sendall(bytes(65_536))
    serving.logged("shed: too slow")


def test_more_connections_than_the_server_holds_are_turned_away(start):
    serving = start(max_connections=2)
    held = [serving.socket() for _ in range(2)]
    for plain in held:
        plain.sendall(b"GET /card HTTP/1.1\r\nHost: x\r\n\r\n")
        assert plain.recv(1) == b"H"
    turned = serving.socket()
    assert read_all(turned).startswith(b"HTTP/1.1 503 ")
    serving.logged("closed: too many connections")


def test_fifty_clients_at_once_are_all_served_and_memory_stays_flat(start):
    # Clients and server share this process here, so its processor time says nothing of the server.
    serving = start(max_flows=50, host="0.0.0.0", busy_ratio=2.0)
    process = psutil.Process()

    def round_of_fifty():
        results = []

        def one(number):
            source = f"127.0.0.{number + 2}"
            down = b"GET /download?bytes=200000 HTTP/1.0\r\n\r\n"
            up = b"PUT /upload HTTP/1.0\r\nContent-Length: 200000\r\n\r\n" + bytes(200_000)
            got = len(serving.raw(down, source=source).partition(b"\r\n\r\n")[2])
            said = serving.raw(up, source=source)
            results.append((got, b'"bytes":200000,' in said))

        threads = [threading.Thread(target=one, args=(number,)) for number in range(50)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return results, process.memory_info().rss

    first, before = round_of_fifty()
    rounds = [round_of_fifty() for _ in range(3)]
    assert first == [(200_000, True)] * 50
    assert all(results == first for results, _ in rounds)
    assert rounds[-1][1] - before < 8 * 2**20


HEAD_PARTS = st.sampled_from(
    [b"GET ", b"PUT ", b"/card", b"/upload", b" HTTP/1.1", b"\r\n", b"Host: x", b": ", b"\0", b"a"]
)
BYTES = st.binary(max_size=300) | st.lists(HEAD_PARTS, max_size=30).map(b"".join)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(BYTES)
def test_any_bytes_are_answered_or_closed_and_the_server_lives(common, data):
    answer = common.raw(data, end=True)
    assert answer == b"" or answer.startswith(b"HTTP/1.1 ")
    assert common.raw(ASK).startswith(b"HTTP/1.1 200 OK")
    assert not any("fault" in line for line in common.log)


@pytest.fixture
def certified(tmp_path):
    """Return (options for TLS, a client's context) for a certificate made for the test."""
    authority = trustme.CA()
    made = authority.issue_cert("localhost", "127.0.0.1")
    chain, key = tmp_path / "chain.pem", tmp_path / "key.pem"
    for blob in made.cert_chain_pems:
        blob.write_to_path(chain, append=True)
    made.private_key_pem.write_to_path(key)
    context = ssl.create_default_context()
    authority.configure_trust(context)
    return {"certificate": chain, "key": key}, context


def test_over_tls_everything_counts_the_same(start, certified):
    options, context = certified
    serving = start(**options)
    assert serving.address.card_url.startswith("https://127.0.0.1:")

    def ask(data):
        with context.wrap_socket(serving.socket(), server_hostname="127.0.0.1") as secure:
            secure.sendall(data)
            return read_all(secure)

    assert ask(ASK).startswith(b"HTTP/1.1 200 OK")
    down = ask(b"GET /download?bytes=20000000 HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
    assert len(down.partition(b"\r\n\r\n")[2]) == 20_000_000
    head = (
        b"PUT /upload HTTP/1.1\r\nHost: x\r\nContent-Length: 3000000\r\nConnection: close\r\n\r\n"
    )
    assert b'"bytes":3000000,' in ask(head + bytes(3_000_000))
    assert ask(b"nonsense\r\n\r\n").startswith(b"HTTP/1.1 400 ")


def test_a_client_that_speaks_no_tls_is_let_go(start, certified):
    options, context = certified
    serving = start(**options, patience=Patience(head_s=0.3))
    with pytest.raises(ConnectionResetError):
        serving.raw(ASK)
    serving.logged("gone: SSLError")
    silent = serving.socket()
    serving.logged("shed: too slow")
    assert read_all(silent) == b""
    with context.wrap_socket(serving.socket(), server_hostname="127.0.0.1") as secure:
        secure.sendall(ASK)
        assert read_all(secure).startswith(b"HTTP/1.1 200 OK")


def test_a_certificate_that_cannot_be_read_is_one_sentence(tmp_path):
    with pytest.raises(UsageError, match="certificate"):
        serve(ServeOptions(host="127.0.0.1", certificate=tmp_path / "absent.pem"))
