"""The shipped nginx example, started as it stands but for its port: file down, WebDAV PUT up."""

import http.client
import shutil
import socket
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

pytestmark = [
    pytest.mark.loopback,
    pytest.mark.skipif(shutil.which("nginx") is None, reason="nginx is not installed"),
]

EXAMPLE = Path(__file__).parents[2] / "config" / "server" / "nginx.conf"
PORT_IN_EXAMPLE = "8643"
DOWN = bytes(range(256)) * 20_000
ATTEMPTS = 200


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return taken.getsockname()[1]


def until_it_listens(process, port):
    for _ in range(ATTEMPTS):
        try:
            socket.create_connection(("127.0.0.1", port), timeout=5).close()
        except ConnectionRefusedError:
            with pytest.raises(subprocess.TimeoutExpired):
                process.wait(0.05)
        else:
            return
    pytest.fail("nginx never listened")


@pytest.fixture(scope="module")
def nginx(tmp_path_factory):
    """Return (port, folder) of an nginx run from the example."""
    folder = tmp_path_factory.mktemp("nginx")
    for name in ("www", "up", "tmp"):
        (folder / name).mkdir()
    (folder / "www" / "down.bin").write_bytes(DOWN)
    port = free_port()
    text = EXAMPLE.read_text().replace(PORT_IN_EXAMPLE, str(port))
    if not socket.has_dualstack_ipv6():
        text = text.replace(f"listen [::]:{port};", "")
    (folder / "nginx.conf").write_text(text)
    # One foreground process with the test's own rights; nothing else differs from the example.
    command = ["nginx", "-p", folder, "-c", folder / "nginx.conf", "-e", "stderr"]
    command += ["-g", "daemon off; master_process off;"]
    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(command, stderr=log)
    try:
        until_it_listens(process, port)
        yield port, folder
    finally:
        process.terminate()
        process.wait(10)


def ask(port, method, target, body=None):
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as connection:
        connection.request(method, target, body=body)
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read()


def test_the_example_names_its_port_where_the_test_replaces_it():
    assert EXAMPLE.read_text().count(f"listen {PORT_IN_EXAMPLE};") == 1


def test_the_file_comes_down_whole_and_untouched(nginx):
    port, _ = nginx
    status, headers, body = ask(port, "GET", "/down.bin")
    assert status == 200
    assert headers["Content-Length"] == str(len(DOWN))
    assert headers["Content-Encoding"] is None
    assert body == DOWN


def test_an_upload_is_stored_and_written_over_by_the_next_run(nginx):
    port, folder = nginx
    stored = folder / "up" / "flow-1"
    assert ask(port, "PUT", "/up/0a1b2c3d-1", DOWN)[0] in {201, 204}
    assert stored.read_bytes() == DOWN
    assert ask(port, "PUT", "/up/ffffffff-11", b"short")[0] == 204
    assert stored.read_bytes() == b"short"


def test_whatever_the_flows_are_called_ten_files_stay_behind(nginx):
    port, folder = nginx
    for number in range(30):
        assert ask(port, "PUT", f"/up/run-{number}", b"x")[0] in {201, 204}
    left = {path.name for path in (folder / "up").iterdir() if path.is_file()}
    assert left == {f"flow-{digit}" for digit in range(10)}


def test_an_upload_is_answered_after_its_body(nginx):
    port, _ = nginx
    with socket.create_connection(("127.0.0.1", port), timeout=20) as plain:
        plain.sendall(b"PUT /up/late-5 HTTP/1.1\r\nHost: x\r\nContent-Length: 2000000\r\n\r\n")
        plain.sendall(bytes(1_999_999))
        plain.settimeout(0.2)
        with pytest.raises(TimeoutError):
            plain.recv(1)
        plain.settimeout(20)
        plain.sendall(b"\0")
        assert plain.recv(64).startswith((b"HTTP/1.1 201 ", b"HTTP/1.1 204 "))


REFUSED = [
    ("GET", "/up/flow-1", None, 403),
    ("DELETE", "/up/flow-1", None, 403),
    ("PUT", "/up/a/1", b"x", 404),
    ("PUT", "/up/", b"x", 404),
    ("PUT", "/up/%2e%2e%2fwww%2f1", b"x", 404),
    ("MKCOL", "/up/1", None, 403),
    ("PUT", "/up/../www/down.bin", b"x", 404),
    ("PUT", "/up/.tmp", b"x", 404),
    ("PUT", "/down.bin", b"x", 405),
    ("GET", "/", None, 404),
    ("GET", "/nginx.conf", None, 404),
]


@pytest.mark.parametrize(("method", "target", "body", "status"), REFUSED)
def test_nothing_else_is_offered(nginx, method, target, body, status):
    port, folder = nginx
    assert ask(port, method, target, body)[0] == status
    assert (folder / "www" / "down.bin").read_bytes() == DOWN


def test_a_body_beyond_the_limit_is_refused(nginx):
    port, _ = nginx
    with socket.create_connection(("127.0.0.1", port), timeout=20) as plain:
        plain.sendall(b"PUT /up/big-1 HTTP/1.1\r\nHost: x\r\nContent-Length: 67108865\r\n\r\n")
        assert plain.recv(64).startswith(b"HTTP/1.1 413 ")
