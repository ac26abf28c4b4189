"""A lease that real systemd-networkd took of real dnsmasq, told over a private bus."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from private_bus import CONFIGURATION

ROOT = Path(__file__).parents[2]
NETWORKD = Path("/lib/systemd/systemd-networkd")
PROGRAMS = ("dbus-daemon", "dnsmasq", "ip", "unshare", "nsenter")
LEASE_S = 600

SCRIPT = """
set -e
mount -t tmpfs none /run
mount -t sysfs -o ro none /sys
mkdir -p /run/dbus /run/systemd/network /run/systemd/system
ip link set lo up
ip link add n0 type veth peer name n1
trap 'kill $manager $bus $server $far' EXIT
unshare -n sleep 60 & far=$!
for try in $(seq 100); do
  [ "$(readlink /proc/$far/ns/net)" != "$(readlink /proc/self/ns/net)" ] && break
  sleep 0.02
done
ip link set n1 netns $far
nsenter -t $far -n ip addr add 192.0.2.1/24 dev n1
nsenter -t $far -n ip link set n1 up
nsenter -t $far -n dnsmasq --no-daemon --conf-file=/dev/null --port=0 --interface=n1 \
  --bind-interfaces --dhcp-authoritative --no-ping --dhcp-range=192.0.2.30,192.0.2.60,LEASE_S \
  --dhcp-option=option:router,192.0.2.1 --dhcp-option=option:dns-server,192.0.2.53 \
  --dhcp-leasefile=/run/dnsmasq.leases --pid-file=/run/dnsmasq.pid 2>/run/dnsmasq.log & server=$!
printf '%s' "$CONFIGURATION" > /run/bus.conf
dbus-daemon --config-file=/run/bus.conf --nofork --nopidfile 2>/run/bus.log & bus=$!
printf '[Match]\\nName=n0\\n[Network]\\nDHCP=ipv4\\nLinkLocalAddressing=no\\n' \
  > /run/systemd/network/10-n0.network
for try in $(seq 100); do [ -S /run/dbus/system_bus_socket ] && break; sleep 0.02; done
ip link set n0 up
NETWORKD 2>/run/networkd.log & manager=$!
for try in $(seq 200); do ip -4 addr show n0 | grep -q inet && break; sleep 0.05; done
"$PYTHON" -c "$READ"
"""

READ = """
import json
from dataclasses import asdict
from agent.engines.linux_facts import LinuxFacts
print(json.dumps([asdict(lease) for lease in LinuxFacts().leases("n0")]))
"""

pytestmark = [pytest.mark.lab, pytest.mark.once]


def missing():
    path = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin:/bin"
    absent = [name for name in PROGRAMS if shutil.which(name, path=path) is None]
    return [*absent, *([] if NETWORKD.exists() else ["systemd-networkd"])]


def test_networkd_tells_a_lease_that_it_took(require_lab):
    if os.geteuid() != 0:
        pytest.skip("systemd-networkd gives its folders to a user of its own: root is needed")
    absent = missing()
    if absent and os.environ.get("REQUIRE_LAB") == "1":
        pytest.fail(f"not installed: {', '.join(absent)}")
    if absent:
        pytest.skip(f"not installed: {', '.join(absent)}")
    script = SCRIPT.replace("LEASE_S", str(LEASE_S)).replace("NETWORKD", str(NETWORKD))
    place = "/run/dbus/system_bus_socket"
    chosen = {
        "PATH": f"{os.environ['PATH']}:/usr/sbin:/sbin",
        "PYTHON": sys.executable,
        "READ": READ,
        "CONFIGURATION": CONFIGURATION.format(place=place, services="/run/none"),
    }
    done = subprocess.run(
        ["unshare", "-n", "-m", "-p", "-f", "--kill-child", "--mount-proc", "sh", "-c", script],
        cwd=ROOT,
        env=os.environ | chosen,
        stdin=subprocess.PIPE,
        capture_output=True,
        text=True,
        timeout=40,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    (lease,) = json.loads(done.stdout)
    assert (lease["origin"], lease["server_id"], lease["dns"]) == (
        "dhcp",
        "192.0.2.1",
        ["192.0.2.53"],
    )
    assert lease["address"].startswith("192.0.2.")
    # RFC 2131 §4.4.5: dnsmasq states T1 = 0.5 and T2 = 0.875 of the lease (--dhcp-range, manual).
    assert (lease["lease_s"], lease["t1_s"], lease["t2_s"]) == (600, 300, 525)
    assert lease["sources"]["origin"] == lease["sources"]["server_id"] == "networkd-dbus"
    assert 0 < lease["left_s"] <= LEASE_S
    assert lease["ways"] == ["192.0.2.1"]
