"""Small servers on loopback: hostile ones by script, nginx from a configuration made here."""

import contextlib
import shutil
import socket
import subprocess
import threading
from contextlib import contextmanager
from pathlib import Path

from agent.server.app import ServeOptions, serve

WAIT_S = 20.0
NGINX = shutil.which("nginx") or "/usr/sbin/nginx"
VSFTPD = shutil.which("vsftpd") or "/usr/sbin/vsftpd"
EXAMPLES = Path(__file__).parents[2] / "config" / "server"


class LiteralNames:
    """A names port that knows only what it is told, and literal addresses."""

    def __init__(self, **known):
        self.known = known
        self.asked = []

    def query(self, resolver, name, qtype, within_s):
        raise AssertionError

    def resolve(self, name, family, within_s):
        self.asked.append((name, family))
        return (self.known.get(name, name),)


class Scripted:
    """A TCP server whose every connection is handled by a function of its socket."""

    def __init__(self, handle, context=None, family=socket.AF_INET):
        self.handle = handle
        self.context = context
        self.heads = []
        self.ending = threading.Event()
        self._open = []
        self._threads = []
        self.listener = socket.socket(family)
        self.listener.bind(("::1" if family == socket.AF_INET6 else "127.0.0.1", 0))
        self.listener.listen(64)
        self.port = self.listener.getsockname()[1]
        self._accepting = threading.Thread(target=self._accept)
        self._accepting.start()

    def url(self, path="/", scheme="http", host="127.0.0.1"):
        return f"{scheme}://{host}:{self.port}{path}"

    def head(self, sock):
        """Read one request head, keep it, return what came past it."""
        data = b""
        while b"\r\n\r\n" not in data:
            part = sock.recv(65_536)
            if not part:
                raise ConnectionError
            data += part
        head, _, rest = data.partition(b"\r\n\r\n")
        self.heads.append(head.decode())
        return rest

    def close(self):
        self.ending.set()
        with contextlib.suppress(OSError):
            self.listener.shutdown(socket.SHUT_RDWR)
        self.listener.close()
        self._accepting.join(WAIT_S)
        for sock in self._open:
            with contextlib.suppress(OSError):
                sock.shutdown(socket.SHUT_RDWR)
        for thread in self._threads:
            thread.join(WAIT_S)
            assert not thread.is_alive()
        for sock in self._open:
            sock.close()

    def _accept(self):
        while True:
            try:
                sock, _ = self.listener.accept()
            except OSError:
                return
            self._open.append(sock)
            thread = threading.Thread(target=self._serve, args=(sock,))
            self._threads.append(thread)
            thread.start()

    def _serve(self, sock):
        with contextlib.suppress(OSError):
            if self.context is not None:
                sock = self.context.wrap_socket(sock, server_side=True)
                self._open.append(sock)
            self.handle(self, sock)
            with contextlib.suppress(OSError):
                sock.shutdown(socket.SHUT_RDWR)
            sock.close()


def answering(*parts):
    """Return a handler that reads a head and sends these octets."""

    def handle(server, sock):
        server.head(sock)
        for part in parts:
            sock.sendall(part)

    return handle


CONFIGURATION = """
daemon off;
worker_processes 1;
error_log {folder}/error.log warn;
pid {folder}/nginx.pid;
{user}
events {{ worker_connections 128; }}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy; fastcgi_temp_path {folder}/fcgi;
    uwsgi_temp_path {folder}/uwsgi; scgi_temp_path {folder}/scgi;
    server {{
        listen {address}:{port}{tls};
        root {folder}/www;
        location /put/ {{
            root {folder};
            dav_methods PUT;
            client_max_body_size 0;
        }}
        location /early/ {{ client_max_body_size 0; return 204; }}
        location /small/ {{
            root {folder};
            dav_methods PUT;
            client_max_body_size 1m;
        }}
    }}
}}
"""


@contextmanager
def nginx(folder, *, certificate=None, address="127.0.0.1", download_bytes=200_000_000):
    """Run nginx from a configuration written into a folder; yields its base URL."""
    for name in ("www", "put", "small", "body"):
        (folder / name).mkdir()
    with (folder / "www" / "big").open("wb") as big:
        big.truncate(download_bytes)
    (folder / "www" / "page").write_text("tern bay says hello")
    port = free_port(address)
    host, tls = f"[{address}]" if ":" in address else address, ""
    if certificate is not None:
        certificate.private_key_and_cert_chain_pem.write_to_path(str(folder / "both.pem"))
        tls = f" ssl; ssl_certificate {folder}/both.pem; ssl_certificate_key {folder}/both.pem"
    text = CONFIGURATION.format(
        folder=folder, address=host, port=port, tls=tls, user="user root;" if _root() else ""
    )
    (folder / "nginx.conf").write_text(text)
    command = [NGINX, "-p", str(folder), "-e", str(folder / "error.log"), "-c"]
    with _running([*command, str(folder / "nginx.conf")], address, port):
        yield f"{'https' if tls else 'http'}://{host}:{port}"


@contextmanager
def example_nginx(folder, download_bytes=200_000_000):
    """Run nginx from the shipped example, its port changed; yields the port."""
    for name in ("www", "up", "tmp"):
        (folder / name).mkdir()
    _sparse(folder / "www" / "down.bin", download_bytes)
    port = free_port("127.0.0.1")
    text = (EXAMPLES / "nginx.conf").read_text().replace("8643", str(port))
    (folder / "nginx.conf").write_text(text)
    command = [NGINX, "-p", folder, "-c", folder / "nginx.conf", "-e", "stderr"]
    command += ["-g", "daemon off; master_process off;"]
    with _running(command, "127.0.0.1", port):
        yield port


@contextmanager
def example_vsftpd(folder, download_bytes=200_000_000):
    """Run vsftpd from the shipped example with this user's rights; yields the port."""
    (folder / "up").mkdir(parents=True)
    _sparse(folder / "down.bin", download_bytes)
    port = free_port("127.0.0.1")
    changed = {
        "listen_port": port,
        "anon_root": folder,
        "run_as_launching_user": "YES",
        "background": "NO",
    }
    # Owned by whoever starts it, which vsftpd insists on.
    example = folder.with_name("vsftpd.conf")
    example.write_text((EXAMPLES / "vsftpd.conf").read_text())
    command = [VSFTPD, example, *(f"-o{name}={value}" for name, value in changed.items())]
    with _running(command, "127.0.0.1", port):
        yield port


@contextmanager
def operator(**options):
    """Run the operator's server; yields its card URL."""
    up, stop, where = threading.Event(), threading.Event(), []

    def ready(address):
        where.append(address)
        up.set()

    chosen = ServeOptions(**({"host": "127.0.0.1"} | options))
    thread = threading.Thread(target=serve, args=(chosen, ready, stop))
    thread.start()
    try:
        assert up.wait(WAIT_S)
        host = f"[{chosen.host}]" if ":" in chosen.host else chosen.host
        yield f"http://{host}:{where[0].port}/card"
    finally:
        stop.set()
        thread.join(WAIT_S)
        assert not thread.is_alive()


def free_port(address):
    """Return a port that was free a moment ago."""
    with socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET) as free:
        free.bind((address, 0))
        return free.getsockname()[1]


def _sparse(path, size):
    with path.open("wb") as file:
        file.truncate(size)


@contextmanager
def _running(command, address, port):
    with subprocess.Popen(command, stderr=subprocess.PIPE) as process:
        try:
            _await(address, port, process)
            yield
        finally:
            process.terminate()
            process.wait(WAIT_S)


def _root():
    import os

    return os.geteuid() == 0


def _await(address, port, process):
    for _ in range(200):
        assert process.poll() is None, process.stderr.read()
        with contextlib.suppress(OSError), socket.create_connection((address, port), 1):
            return
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(0.02)
    raise AssertionError
