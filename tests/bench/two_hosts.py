"""Two network namespaces joined by a cable, nginx on the far one; for programs that measure.

A program calls `alone` first: it is then the near host. Addresses are of the benchmark range
(RFC 2544, 198.18.0.0/15).
"""

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager, suppress
from pathlib import Path

NEAR, FAR, PORT = "198.18.0.1", "198.18.0.2", "eth0"
PLAIN_PORT, TLS_PORT = 8643, 8644
INSIDE = "--inside"
DOWN_BYTES = 1 << 40
BODY_BYTES = 67_108_864
ATTEMPTS = 200
NGINX = shutil.which("nginx") or "/usr/sbin/nginx"
NAME = "server.tern.example"

CONFIGURATION = """
daemon off; master_process off;
error_log stderr crit;
pid {folder}/nginx.pid;
events {{ worker_connections 256; }}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/tmp; fastcgi_temp_path {folder}/tmp;
    uwsgi_temp_path {folder}/tmp; scgi_temp_path {folder}/tmp;
    keepalive_requests 1000000;
    server {{
        listen {address}:{plain};
        listen {address}:{tls} ssl;
        ssl_certificate {folder}/both.pem; ssl_certificate_key {folder}/both.pem;
        location /down.bin {{ root {folder}; sendfile on; sendfile_max_chunk 2m; }}
        location ~ "^/up/.*([0-9])$" {{
            alias {folder}/up/$1;
            dav_methods PUT;
            client_max_body_size 0;
            client_body_buffer_size 256k;
        }}
    }}
}}
"""


def alone():
    """Return inside a network namespace of our own, by running this program again in one."""
    if INSIDE in sys.argv:
        sys.argv.remove(INSIDE)
        return
    user = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"] if os.geteuid() else []
    command = ["unshare", *user, "-n", sys.executable, *sys.argv, INSIDE]
    os.execvp(command[0], command)


def run(*argv):
    """Run a program that must succeed."""
    subprocess.run(argv, check=True, timeout=20)


@contextmanager
def far_host():
    """Yield the argv prefix that runs a program on the far host."""
    with subprocess.Popen(
        ["unshare", "-n", "cat"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as keeper:
        # An echoed line says that the namespace is there.
        keeper.stdin.write(b"ready\n")
        keeper.stdin.flush()
        keeper.stdout.readline()
        far = ["nsenter", "-t", str(keeper.pid), "-n"]
        peer = ("type", "veth", "peer", "name", PORT, "netns", str(keeper.pid))
        run("ip", "link", "add", PORT, *peer)
        for prefix, address in (([], NEAR), (far, FAR)):
            run(*prefix, "ip", "address", "add", f"{address}/24", "dev", PORT)
            run(*prefix, "ip", "link", "set", PORT, "up")
            run(*prefix, "ip", "link", "set", "lo", "up")
        try:
            yield far
        finally:
            keeper.kill()


@contextmanager
def shaped(prefix, mbit):
    """Let frames leave a host's port at a rate; as it comes where the rate is None."""
    if mbit is None:
        yield
        return
    burst, limit = max(4_600, mbit * 250), max(50_000, mbit * 12_500)
    tbf = f"tbf rate {mbit}mbit burst {burst} limit {limit}".split()
    run(*prefix, "tc", "qdisc", "add", "dev", PORT, "root", *tbf)
    try:
        yield
    finally:
        run(*prefix, "tc", "qdisc", "del", "dev", PORT, "root")


@contextmanager
def nginx(far):
    """Run nginx on the far host; yields the trusted root's file. Its files lie in memory."""
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with (
        tempfile.TemporaryDirectory(dir=memory) as folder,
        subprocess.Popen([*far, *serving(FAR, folder)]) as process,
    ):
        try:
            until_ready(FAR)
            yield Path(folder) / "root.pem"
        finally:
            process.kill()


def serving(address, folder):
    """Return the command that serves at an address out of a folder."""
    return [sys.executable, __file__, address, str(folder)]


def until_ready(address):
    """Return once nginx listens."""
    for _ in range(ATTEMPTS):
        with suppress(OSError), socket.create_connection((address, PLAIN_PORT), 1):
            return
        time.sleep(0.05)
    raise SystemExit("nginx does not start")


def serve(address, folder):
    """Become nginx: a file without end down, PUT up, plain and under TLS."""
    import trustme

    folder = Path(folder)
    for part in ("up", "body", "tmp"):
        (folder / part).mkdir(parents=True)
    with (folder / "down.bin").open("wb") as file:
        file.truncate(DOWN_BYTES)
    authority = trustme.CA()
    pair = authority.issue_cert(NAME).private_key_and_cert_chain_pem
    pair.write_to_path(str(folder / "both.pem"))
    authority.cert_pem.write_to_path(str(folder / "root.pem"))
    text = CONFIGURATION.format(folder=folder, address=address, plain=PLAIN_PORT, tls=TLS_PORT)
    (folder / "nginx.conf").write_text(text)
    command = [NGINX, "-e", "stderr", "-p", str(folder), "-c", str(folder / "nginx.conf")]
    os.execv(command[0], command)


if __name__ == "__main__":
    serve(*sys.argv[1:])
