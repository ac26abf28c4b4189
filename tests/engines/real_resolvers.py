"""A real resolver (unbound) on loopback over zones made and signed here by dnspython.

`ternbay.example` is soundly signed but for one name, `lapsed.example` has signatures that ran out.
"""

import os
import shutil
import socket
import subprocess
import time
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import dns.dnssec
import dns.name
import dns.rdataset
import dns.rdatatype
import dns.zone
import pytest
import trustme
from cryptography.hazmat.primitives.asymmetric import ec

UNBOUND = shutil.which("unbound") or "/usr/sbin/unbound"
HOST = "dns.ternbay.example"
START_S = 20.0
ZONE = """
@ 300 IN SOA ns.{zone}. desk.{zone}. 1 7200 3600 1209600 300
@ 300 IN NS ns.{zone}.
ns 300 IN A 192.0.2.53
www 300 IN A 203.0.113.80
www 300 IN AAAA 2001:db8::80
broken 300 IN A 203.0.113.81
home 300 IN A 192.168.7.7
long 300 IN TXT {texts}
"""
TEXTS = " ".join(f'"{letter * 200}"' for letter in "abcde")

SERVER = """
server:
  directory: "{folder}"
  chroot: ""
  username: ""
  pidfile: ""
  use-syslog: no
  logfile: "{folder}/log"
  do-daemonize: no
  interface: 127.0.0.1@{port}
  interface: 127.0.0.1@{tls}
  interface: 127.0.0.1@{https}
  tls-port: {tls}
  https-port: {https}
  tls-service-key: "{folder}/key.pem"
  tls-service-pem: "{folder}/chain.pem"
  access-control: 127.0.0.0/8 allow
  do-not-query-localhost: no
  module-config: "{modules}"
  ede: yes
  val-log-level: 0
  {anchors}
remote-control:
  control-enable: no
{zones}
"""
AUTH = """auth-zone:
  name: "{zone}"
  zonefile: "{zone}zone"
  for-downstream: no
  for-upstream: yes
  fallback-enabled: no
"""


def require_unbound():
    """Skip where there is no unbound; fail there when REQUIRE_LAB=1."""
    if os.access(UNBOUND, os.X_OK):
        return
    if os.environ.get("REQUIRE_LAB") == "1":
        pytest.fail("unbound is not installed")
    pytest.skip("unbound is not installed")


def signed_zone(name, until, *, break_name=None):
    """Return (zone text, trust anchor) of a zone whose signatures hold until a moment."""
    zone = dns.zone.from_text(ZONE.format(zone=name, texts=TEXTS), origin=f"{name}.")
    key = ec.generate_private_key(ec.SECP256R1())
    public = dns.dnssec.make_dnskey(key.public_key(), dns.dnssec.Algorithm.ECDSAP256SHA256, 257)
    dns.dnssec.sign_zone(
        zone,
        keys=[(key, public)],
        inception=until - timedelta(days=30),
        expiration=until,
        add_dnskey=True,
        dnskey_ttl=300,
    )
    if break_name is not None:
        node = zone[dns.name.from_text(break_name, origin=None)]
        address = node.get_rdataset(dns.rdataclass.IN, dns.rdatatype.A)
        node.replace_rdataset(dns.rdataset.from_text("IN", "A", address.ttl, "203.0.113.66"))
    return zone.to_text(), f"{name}. IN DNSKEY {public.to_text()}"


def free_ports(count):
    """Return ports that are free for TCP and UDP just now."""
    taken = []
    while len(taken) < count:
        tcp = socket.create_server(("127.0.0.1", 0))
        udp = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            udp.bind(tcp.getsockname())
        except OSError:
            tcp.close()
            udp.close()
            continue
        taken.append((tcp, udp))
    ports = [tcp.getsockname()[1] for tcp, _ in taken]
    for pair in taken:
        for sock in pair:
            sock.close()
    return ports


@contextmanager
def unbound(folder, authority, *, validating):
    """Run the resolver; yield its ports for plain, TLS and HTTPS queries."""
    folder.mkdir()
    port, tls, https = free_ports(3)
    now = datetime.now(UTC)
    zones = {
        "ternbay.example": (now + timedelta(days=10), "broken"),
        "lapsed.example": (now - timedelta(days=10), None),
    }
    anchors = []
    for name, (until, broken) in zones.items():
        text, anchor = signed_zone(name, until, break_name=broken)
        (folder / f"{name}.zone").write_text(text)
        anchors.append(f"trust-anchor: '{anchor}'")
    certificate = authority.issue_cert(HOST)
    certificate.private_key_pem.write_to_path(folder / "key.pem")
    chain = b"".join(part.bytes() for part in certificate.cert_chain_pems)
    (folder / "chain.pem").write_bytes(chain)
    configuration = SERVER.format(
        folder=folder,
        port=port,
        tls=tls,
        https=https,
        modules="validator iterator" if validating else "iterator",
        anchors="\n  ".join(anchors) if validating else "",
        zones="".join(AUTH.format(zone=f"{name}.") for name in zones),
    )
    (folder / "unbound.conf").write_text(configuration)
    with subprocess.Popen([UNBOUND, "-d", "-c", str(folder / "unbound.conf")]) as process:
        try:
            _await(process, port, folder)
            yield port, tls, https
        finally:
            process.terminate()
            process.wait(START_S)


def _await(process, port, folder):
    deadline = time.monotonic() + START_S
    while True:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        if process.poll() is not None or time.monotonic() > deadline:
            log = folder / "log"
            pytest.fail(log.read_text() if log.exists() else "unbound did not start")


def authority():
    """Return an authority for the resolver's certificate."""
    return trustme.CA()
