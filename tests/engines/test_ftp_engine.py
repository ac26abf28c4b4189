"""FTP flows against vsftpd as the shipped example starts it, and against scripted servers."""

import socket
import threading
from pathlib import Path

import pytest
from bulk_runs import CAP, PLAN, assert_whole, measure
from loopback_servers import VSFTPD, WAIT_S, example_vsftpd

from agent.engines.ftp_control import FtpTarget
from agent.errors import BadReply
from agent.measurements import CountedBy, Direction, Ended, State

pytestmark = pytest.mark.loopback

needs_vsftpd = pytest.mark.skipif(not Path(VSFTPD).exists(), reason="vsftpd is not installed")


@pytest.fixture(scope="module")
def vsftpd(tmp_path_factory):
    """Return (port, folder) of the shipped example."""
    folder = tmp_path_factory.mktemp("far") / "ftp"
    with example_vsftpd(folder) as port:
        yield port, folder


@needs_vsftpd
@pytest.mark.parametrize("host", ["127.0.0.1", "[::1]"])
def test_a_file_comes_down_from_the_example(vsftpd, host):
    port, _ = vsftpd
    measured = measure(f"ftp://{host}:{port}/down.bin", Direction.DOWN)
    seen = assert_whole(measured, CountedBy.CLIENT)
    assert measured.family == (6 if "[" in host else 4)
    # IPv6 40 (RFC 8200 §3) or IPv4 20 (RFC 791), TCP 20 (RFC 9293), timestamps 12 (RFC 7323).
    assert seen.header_bytes == (40 if "[" in host else 20) + 20 + 12


@needs_vsftpd
@pytest.mark.parametrize("host", ["127.0.0.1", "[::1]"])
def test_an_upload_to_the_example_is_counted_there_too_and_removed(vsftpd, host):
    port, folder = vsftpd
    measured = measure(f"ftp://{host}:{port}/up/", Direction.UP)
    seen = assert_whole(measured, CountedBy.ACKNOWLEDGED)
    # The server's own file sizes: all that was acknowledged had arrived, the rest came after.
    assert sum(seen.slice_bytes) <= seen.server_bytes < sum(seen.slice_bytes) + CAP
    assert list((folder / "up").iterdir()) == []


@needs_vsftpd
def test_a_file_that_ends_is_fetched_again(tmp_path):
    with example_vsftpd(tmp_path / "ftp", download_bytes=3_000_000) as port:
        seen = assert_whole(
            measure(f"ftp://127.0.0.1:{port}/down.bin", Direction.DOWN), CountedBy.CLIENT
        )
    assert min(seen.flow_bytes) > 3_000_000


@needs_vsftpd
@pytest.mark.parametrize(
    ("path", "direction", "told"),
    [
        ("absent", Direction.DOWN, "550"),
        ("up/page", Direction.DOWN, "too short"),
        ("nowhere/x", Direction.UP, "553"),
    ],
)
def test_what_the_example_refuses_is_told(vsftpd, path, direction, told):
    port, folder = vsftpd
    (folder / "up" / "page").write_text("tern bay says hello")
    measured = measure(f"ftp://127.0.0.1:{port}/{path}", direction)
    (folder / "up" / "page").unlink()
    assert (measured.state, measured.reason.code) == (State.FAILED, "bad-reply")
    assert told in measured.reason.values["problem"]


class Far:
    """A scripted FTP server: replies by command, and what to do with a data connection."""

    def __init__(self, carry=None, **replies):
        self.replies = {"": "220 Tern Bay", "USER": "230 in", "TYPE": "200 ok"} | replies
        self.carry = carry
        self.commands = []

    def __call__(self, server, sock):
        with socket.create_server(("127.0.0.1", 0)) as data:
            data.settimeout(WAIT_S)
            port = data.getsockname()[1]
            known = {
                "EPSV": f"229 here (|||{port}|)",
                "PASV": f"227 there (192,0,2,66,{port >> 8},{port & 255})",
                "SIZE": "500 no",
            } | self.replies
            self.say(sock, known[""])
            for line in sock.makefile("rb"):
                self.commands.append(line.decode().strip())
                verb = line.split()[0].decode()
                self.say(sock, known.get(verb, "500 no"))
                if verb in {"RETR", "STOR"} and self.carry:
                    connection = data.accept()[0]
                    self.carry(server, connection)
                    connection.close()
                    self.say(sock, known.get("END", "226 done"))

    def say(self, sock, reply):
        if reply is not None:
            sock.sendall(reply.encode("latin-1") + b"\r\n")


def endless(_server, connection):
    block = bytes(1 << 18)
    try:
        while True:
            connection.sendall(block)
    except OSError:
        return


OPEN = {"RETR": "150 comes", "STOR": "150 go"}


def test_a_passive_reply_never_leads_to_a_third_party(scripted):
    far = Far(endless, EPSV="500 unknown", **OPEN)
    url = scripted(far).url("/down.bin", scheme="ftp")
    seen = assert_whole(measure(url, Direction.DOWN), CountedBy.CLIENT)
    assert seen.ended in {Ended.DATA, Ended.TIME}
    assert "PASV" in far.commands


def test_the_login_of_a_url_is_used_and_shown_nowhere(scripted):
    far = Far(USER="331 more", PASS="530 secret t0psecret for mallory is wrong")
    url = scripted(far).url("/x", scheme="ftp").replace("//", "//mallory:t0p%73ecret@")
    measured = measure(url, Direction.DOWN)
    assert {"USER mallory", "PASS t0psecret"} <= set(far.commands)
    assert (measured.state, measured.reason.code) == (State.FAILED, "bad-reply")
    assert "530" in measured.reason.values["problem"]
    assert "secret" not in repr(measured) + repr(FtpTarget.parse(url))


def test_without_a_login_the_user_is_anonymous(scripted):
    far = Far(USER="331 more", PASS="530 no")
    measure(scripted(far).url("/x", scheme="ftp"), Direction.DOWN)
    assert "USER anonymous" in far.commands


def some(count):
    def carry(server, connection):
        for _ in range(count):
            connection.sendall(bytes(1_048_576))
            server.ending.wait(0.4)

    return carry


def taken(count):
    def carry(server, connection):
        for _ in range(count):
            connection.recv(65_536)
            server.ending.wait(0.01)

    return carry


def stays(server, _connection):
    server.ending.wait(WAIT_S)


LONG = "x" * 5_000
ENDLESS = "220-" + "b\r\n" * 200
FAULTS = {
    "says nothing": ("down", Far(**{"": None}), State.FAILED, "timed-out"),
    "line without end": ("down", Far(**{"": LONG}), State.FAILED, "bad-reply"),
    "reply without end": ("down", Far(**{"": ENDLESS}), State.FAILED, "bad-reply"),
    "no FTP": ("down", Far(**{"": "SSH-2.0-x"}), State.FAILED, "bad-reply"),
    "too many": ("down", Far(**{"": "421 full"}), State.FAILED, "server-busy"),
    "size of nonsense": ("down", Far(some(0), SIZE="213 x", **OPEN), State.FAILED, "closed-early"),
    "port of nonsense": ("down", Far(EPSV="229 (|||99999|)"), State.FAILED, "bad-reply"),
    "passive without port": ("down", Far(EPSV="229 x", PASV="227 x"), State.FAILED, "bad-reply"),
    "never sends": ("down", Far(stays, **OPEN), State.FAILED, "timed-out"),
    "cut short": ("down", Far(some(3), SIZE="213 9000000", **OPEN), State.PARTIAL, "closed-early"),
    "cut short and told": (
        "down",
        Far(some(3), SIZE="213 9000000", END="451 disk", **OPEN),
        State.PARTIAL,
        "bad-reply",
    ),
    "upload not wanted": ("up", Far(STOR="553 no"), State.FAILED, "bad-reply"),
    "disk full": ("up", Far(taken(90), END="452 full", **OPEN), State.PARTIAL, "bad-reply"),
    "upload closed": ("up", Far(taken(90), **OPEN), State.PARTIAL, "closed-early"),
    "upload stalls": (
        "up",
        Far(lambda s, c: (taken(90)(s, c), stays(s, c)), **OPEN),
        State.PARTIAL,
        "timed-out",
    ),
}


@pytest.mark.parametrize(("way", "far", "state", "code"), FAULTS.values(), ids=FAULTS)
def test_what_goes_wrong_is_told_within_seconds(scripted, way, far, state, code):
    plan = PLAN.model_copy(update={"seconds": 10.0})
    url = scripted(far).url("/x", scheme="ftp")
    measured = measure(url, Direction(way), plan=plan, max_bytes=10**9)
    assert (measured.state, measured.reason.code) == (state, code)
    assert measured.duration_s < 8


@pytest.mark.parametrize(
    "url",
    ["ftp:///x", "ftp://h/a%0d%0aDELE%20b", "ftp://a%0ab@h/x", "ftp://h:99999/", "ftp://[/x"],
)
def test_what_is_no_url_or_smuggles_a_command_is_refused(url):
    with pytest.raises(BadReply):
        FtpTarget.parse(url)


@needs_vsftpd
def test_no_thread_is_left_behind(vsftpd):
    port, _ = vsftpd
    measure(f"ftp://127.0.0.1:{port}/down.bin", Direction.DOWN)
    measure(f"ftp://127.0.0.1:{port}/up/", Direction.UP)
    assert not [thread for thread in threading.enumerate() if thread.name == "bulk-flow"]


def test_a_server_that_cannot_be_reached_is_told_without_the_login():
    with socket.create_server(("127.0.0.1", 0)) as closed:
        port = closed.getsockname()[1]
    for host in (f"127.0.0.1:{port}", "[::ffff:0:0:1"):
        for direction in Direction:
            measured = measure(f"ftp://mallory:t0psecret@{host}/x", direction)
            assert measured.state is State.FAILED
            assert "secret" not in repr(measured)
