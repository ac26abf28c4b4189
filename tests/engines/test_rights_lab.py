"""Rights given up for real, and the lease probe between two real DHCP servers.

dnsmasq serves in a namespace of the test's own; its log is the witness that nothing but DISCOVER
was ever sent, its lease file that nothing was taken.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from agent.engines.helper_client import QUESTIONS

pytestmark = pytest.mark.lab

ROOT = Path(__file__).parents[2]
PLAIN_LAB = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]
LAB = ["unshare", *(PLAIN_LAB if os.geteuid() else []), "-n"]

STATE = """
import json, os, socket, sys
from pathlib import Path

def state(pid="self"):
    rows = dict(
        line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines()
    )
    found = {name: int(rows[name], 16) for name in ("CapEff", "CapPrm", "CapBnd", "CapAmb")}
    found |= {name: rows[name].split() for name in ("Uid", "Gid", "Groups", "NoNewPrivs")}
    return found

def frames_allowed():
    try:
        socket.socket(socket.AF_PACKET, socket.SOCK_RAW).close()
    except PermissionError:
        return False
    return True
"""

SPLIT = (
    STATE
    + """
from agent.engines.rights import split_rights
rights = split_rights(sys.argv[1] == "frames")
print(json.dumps({
    "own": state(),
    "helpers": [state(pid) for pid in rights.frames.pids] if rights.frames else [],
    "reason": rights.frames_reason,
    "pool": len(rights.pool),
    "taken": [rights.take_raw_icmp(family) is not None for family in (4, 6)],
    "frames_allowed": frames_allowed(),
    "child": os.popen("grep CapEff /proc/self/status").read().split()[1],
}))
Path(sys.argv[2]).write_text("written after the drop")
rights.close()
"""
)


def run(code, *arguments, lab=LAB, environment=None, before=""):
    script = f'{before}\nexec "$0" -c "$@"'
    return subprocess.run(
        [*lab, "sh", "-c", script, sys.executable, code, *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env={**os.environ, **(environment or {})},
    )


def split(tmp_path, wish="frames", **kwargs):
    target = tmp_path / "after"
    done = run(SPLIT, wish, str(target), **kwargs)
    assert done.returncode == 0, done.stderr
    assert target.read_text() == "written after the drop"
    return json.loads(done.stdout)


def test_the_agent_keeps_no_right_and_the_helper_one(require_lab, tmp_path):
    seen = split(tmp_path)
    own, helpers = seen["own"], seen["helpers"]
    assert [own[name] for name in ("CapEff", "CapPrm", "CapBnd", "CapAmb")] == [0, 0, 0, 0]
    # capabilities(7): CAP_NET_RAW is bit 13.
    rights = [{helper[n] for n in ("CapEff", "CapPrm", "CapBnd")} for helper in helpers]
    assert rights == [{1 << 13}] * QUESTIONS
    assert {own["NoNewPrivs"][0], *(helper["NoNewPrivs"][0] for helper in helpers)} == {"1"}
    assert (seen["reason"], seen["frames_allowed"], int(seen["child"], 16)) == (None, False, 0)


def test_raw_icmp_is_kept_only_where_datagrams_are_refused(require_lab, tmp_path):
    rule = "echo {} > /proc/sys/net/ipv4/ping_group_range"
    gid = os.getegid() if os.geteuid() == 0 else 1000
    refused = split(tmp_path, "none", before=rule.format("1 0"))
    allowed = split(tmp_path, "none", before=rule.format(f"{gid} {gid}"))
    assert (refused["pool"], refused["taken"]) == (16, [True, True])
    assert (allowed["pool"], allowed["taken"]) == (0, [False, False])
    assert refused["reason"] == "not-asked"


BECOME = (
    STATE
    + """
from agent.engines.linux_capabilities import Account, keep_only
keep_only(int(sys.argv[1]), Account(1234, 2345))
print(json.dumps({**state(), "frames_allowed": frames_allowed()}))
"""
)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become someone else")
@pytest.mark.parametrize("kept", [0, 1 << 13])
def test_becoming_the_caller_keeps_what_was_said_and_no_more(require_lab, kept):
    done = run(BECOME, str(kept))
    assert done.returncode == 0, done.stderr
    seen = json.loads(done.stdout)
    assert (seen["Uid"], seen["Gid"]) == (["1234"] * 4, ["2345"] * 4)
    assert set(seen["Groups"]) <= {"2345"}
    assert [seen[n] for n in ("CapEff", "CapPrm", "CapBnd", "CapAmb")] == [kept] * 4
    assert (seen["NoNewPrivs"], seen["frames_allowed"]) == (["1"], bool(kept))


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become someone else")
def test_sudo_gives_the_process_back_to_a_caller_who_may_read_it(require_lab, tmp_path):
    temporary = Path(tempfile.gettempdir())
    for folder in (tmp_path, *tmp_path.parents):
        if folder.is_relative_to(temporary) and folder != temporary:
            folder.chmod(0o777)
    as_caller = ["setpriv", "--reuid=1234", "--regid=2345", "--clear-groups"]
    readable = run("import agent", lab=as_caller).returncode == 0
    seen = split(tmp_path, environment={"SUDO_UID": "1234", "SUDO_GID": "2345"})
    expected = "1234" if readable else "0"
    everyone = [seen["own"], *seen["helpers"]]
    assert [one["Uid"] for one in everyone] == [[expected] * 4] * (1 + QUESTIONS)
    assert [one["CapEff"] for one in everyone] == [0, *[1 << 13] * QUESTIONS]
    assert (tmp_path / "after").stat().st_uid == int(expected)


def test_without_the_right_there_is_nothing_to_split(require_lab, tmp_path):
    # Root whose bounding set is empty holds no capability after exec (capabilities(7)).
    bare = ["setpriv", "--bounding-set=-all", "--inh-caps=-all"] if os.geteuid() == 0 else []
    seen = split(tmp_path, lab=bare, environment={"SUDO_UID": "1234", "SUDO_GID": "2345"})
    assert (seen["helpers"], seen["reason"], seen["pool"]) == ([], "right-missing", 0)
    assert seen["own"]["CapEff"] == 0


def test_threads_come_after_the_split(require_lab):
    code = (
        "import threading; from agent.engines.rights import split_rights\n"
        "from agent.errors import RightMissing\n"
        "gate = threading.Event(); t = threading.Thread(target=gate.wait); t.start()\n"
        "try:\n    split_rights(False)\nexcept RightMissing as error:\n    print(error.code)\n"
        "gate.set(); t.join()"
    )
    assert run(code).stdout.strip() == "right-missing"


REFUSED = """
import json, os, sys
from pathlib import Path
from agent.engines.helper_client import start_helper
from agent.engines.linux_capabilities import Account

def left():
    ports = [line.split() for line in Path("/proc/net/dev").read_text().splitlines()]
    sent = next(int(row[10]) for row in ports if row[0] == "port0:")
    return sent, len(Path("/proc/net/packet").read_text().splitlines()) - 1

def answer(line):
    client = start_helper(Account.calling(os.environ))
    client._send(line)
    said = json.loads(client._line(15.0))
    client.close()
    return said

wish = {
    "want": "concentrators", "interface": "port0", "hardware_address": sys.argv[1], "listen_s": 1
}
hostile = [
    {**wish, "want": "session"},
    {**wish, "want": "offers", "listen_s": 1},
    {**wish, "hardware_address": "02:00:5e:10:00:99"},
    {**wish, "want": "offers", "listen_s": 6, "hardware_address": "02:00:5e:10:00:99"},
    {**wish, "command": "true"},
    [wish],
]
said = [answer(json.dumps(one).encode() + b"\\n")["error"] for one in hostile]
after = left()
served = answer(json.dumps(wish).encode() + b"\\n")
print(json.dumps({"said": said, "after": after, "sent": served["sent"], "then": left()}))
"""


@pytest.mark.once
def test_a_refused_request_leaves_no_frame_and_no_socket(require_lab):
    """Each helper may send frames; what it refuses, another port's address too, sends none."""
    own = "02:00:5e:10:00:01"
    port = (
        "echo 1 > /proc/sys/net/ipv6/conf/default/disable_ipv6; "
        f"ip link add port0 address {own} type veth peer name far0 && "
        "ip link set port0 up && ip link set far0 up"
    )
    done = run(REFUSED, own, before=port)
    assert done.returncode == 0, done.stderr
    seen = json.loads(done.stdout)
    assert seen["said"] == ["refused"] * 6
    assert seen["after"] == [0, 0]
    # The same port takes the frame of a request that is served.
    assert (seen["sent"], seen["then"]) == (1, [1, 0])


def gone(pid):
    status = Path(f"/proc/{pid}/status")
    return not status.exists() or "State:\tZ" in status.read_text()


def test_the_helpers_die_with_the_agent(require_lab):
    code = (
        "import os, signal\nfrom agent.engines.rights import split_rights\n"
        "print(*split_rights(True).frames.pids, flush=True)\nos.kill(os.getpid(), signal.SIGKILL)"
    )
    pids = run(code).stdout.split()
    assert len(pids) == QUESTIONS
    for _ in range(200):
        if all(map(gone, pids)):
            return
        os.sched_yield()
        subprocess.run(["true"], check=True)
    pytest.fail("a helper outlived the agent")


SIEVE = """
import socket
from agent.helper.sieve import hear_dhcp_alone

def frame(kind=0x0800, protocol=17, offset=0, port=68, options=b""):
    words = 5 + len(options) // 4
    head = bytes([0x40 | words, 0]) + bytes(4) + offset.to_bytes(2, "big") + bytes([64, protocol])
    ip = head + bytes(2) + bytes([192, 0, 2, 1]) + b"\\xff" * 4 + options
    udp = (67).to_bytes(2, "big") + port.to_bytes(2, "big") + bytes(40)
    return b"\\xff" * 6 + bytes(6) + kind.to_bytes(2, "big") + ip + udp

sent = {
    "offer": frame(), "offer behind options": frame(options=bytes(8)),
    "unfragmented": frame(offset=0x4000),
    "other port": frame(port=69), "tcp": frame(protocol=6), "fragment": frame(offset=1),
    "not ipv4": frame(kind=0x86DD), "short": frame()[:30], "empty": bytes(14),
}
with socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(3)) as near, \\
        socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(3)) as far:
    hear_dhcp_alone(near)
    near.bind(("lap", 3))
    near.settimeout(0.5)
    far.bind(("blap", 3))
    for data in sent.values():
        far.send(data)
    heard = []
    try:
        while True:
            data = near.recv(2000)
            heard += [name for name, one in sent.items() if one == data]
    except TimeoutError:
        print(sorted(heard))
"""


def test_the_helper_hears_dhcp_alone(require_lab):
    done = run(SIEVE, before=BRIDGE)
    assert done.stdout.strip() == str(["offer", "offer behind options", "unfragmented"]), (
        done.stderr
    )


BRIDGE = """
set -e
ip link set lo up
ip link add br0 type bridge
ip link set br0 up
for n in lap one two quiet; do
  ip link add $n type veth peer name b$n
  ip link set $n up
  ip link set b$n up
done
for n in lap one two; do ip link set b$n master br0; done
ip addr add 192.0.2.1/24 dev one
ip addr add 198.51.100.1/24 dev two
"""

PROBE = """
import json, subprocess, sys, threading
from dataclasses import asdict
from pathlib import Path
folder, dnsmasq = Path(sys.argv[1]), sys.argv[2]

def server(port, network, *more):
    return subprocess.Popen([
        dnsmasq, "--no-daemon", "--conf-file=/dev/null", "--pid-file=",
        "--port=0", "--bind-interfaces", f"--interface={port}", "--except-interface=lo",
        "--no-ping", "--log-dhcp", f"--log-facility={folder}/{port}.log",
        f"--dhcp-leasefile={folder}/{port}.leases",
        f"--dhcp-range={network}.30,{network}.60,3600", *more,
    ])

def ready(port):
    log = folder / f"{port}.log"
    while not (log.exists() and "sockets bound" in log.read_text()):
        if any(s.poll() is not None for s in servers):
            sys.exit("dnsmasq ended")

servers = [
    server("one", "192.0.2", "--dhcp-option=option:router,192.0.2.1",
           "--dhcp-option=option:dns-server,192.0.2.53"),
    server("two", "198.51.100",
           "--dhcp-option=option:classless-static-route,0.0.0.0/0,198.51.100.9"),
]
try:
    for port in ("one", "two"):
        ready(port)
    asking = '''
import json, sys
from dataclasses import asdict
from agent.clock import SystemClock, Timeline
from agent.engines.linux_facts import LinuxFacts
from agent.engines.rights import split_rights
from agent.errors import CannotMeasure
from agent.ports.frames import Discover
port, mac = sys.argv[1:]
rights = split_rights(True)
own = next(p.link.hardware_address for p in LinuxFacts().interfaces() if p.name == "lap")
try:
    asked = Discover(interface=port, hardware_address=mac or own, listen_s=6.0,
                     options=((60, b"doorstep-lab"),))
    print(json.dumps(asdict(rights.frames.discover(asked))))
except CannotMeasure as error:
    print(json.dumps({"error": error.code, "fields": error.fields}))
finally:
    rights.close()
'''
    quiet = next(
        line.split()[1] for line in subprocess.run(
            ["ip", "link", "show", "quiet"], capture_output=True, text=True
        ).stdout.splitlines() if "link/ether" in line
    )
    asked = {
        "both": ("lap", ""), "nobody": ("quiet", quiet), "forged": ("lap", "02:00:5e:10:00:99"),
        "absent": ("nothere", "02:00:5e:10:00:99"),
    }
    running = {
        name: subprocess.Popen([sys.executable, "-c", asking, *arguments], stdout=subprocess.PIPE)
        for name, arguments in asked.items()
    }
    heard = {name: json.loads(p.communicate(timeout=30)[0]) for name, p in running.items()}
    print(json.dumps(heard))
finally:
    for one in servers:
        one.terminate()
    for one in servers:
        one.wait()
"""


@pytest.fixture(scope="module")
def probed(require_lab, tmp_path_factory):
    """Return (answers by question, folder of the servers' logs and leases)."""
    dnsmasq = shutil.which("dnsmasq", path=f"{os.environ['PATH']}:/usr/sbin")
    if dnsmasq is None:
        pytest.skip("dnsmasq is not installed")
    folder = tmp_path_factory.mktemp("servers")
    done = run(PROBE, str(folder), dnsmasq, before=BRIDGE)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout), folder


def test_both_servers_are_heard_with_all_they_offer(probed):
    answers, _ = probed
    offers = {offer["server_id"]: offer for offer in answers["both"]["offers"]}
    assert set(offers) == {"192.0.2.1", "198.51.100.1"}
    first, second = offers["192.0.2.1"], offers["198.51.100.1"]
    # RFC 2131 §4.4.5: dnsmasq sends T1 and T2 at their default shares of the lease.
    assert (first["lease_s"], first["t1_s"], first["t2_s"]) == (3600, 1800, 3150)
    assert (first["subnet_mask"], first["routers"]) == ("255.255.255.0", ["192.0.2.1"])
    assert first["dns"] == ["192.0.2.53"]
    assert second["routers"] == ["198.51.100.9"]
    assert first["server_hardware_address"] != second["server_hardware_address"]
    assert 0 < first["after_ms"] < 6000
    assert answers["both"]["listened_s"] >= 6.0


def test_nothing_is_taken(probed):
    _, folder = probed
    for port in ("one", "two"):
        log = (folder / f"{port}.log").read_text()
        assert "DHCPDISCOVER" in log
        assert "vendor class: doorstep-lab" in log
        assert "DHCPREQUEST" not in log
        leases = folder / f"{port}.leases"
        assert not leases.exists() or leases.read_text() == ""


def test_silence_is_heard_out_and_asked_twice(probed):
    answers, _ = probed
    assert answers["nobody"]["offers"] == []
    assert answers["nobody"]["sent"] == 2
    assert answers["nobody"]["listened_s"] >= 6.0


def test_a_forged_hardware_address_leaves_no_trace(probed):
    answers, folder = probed
    assert answers["forged"]["error"] == "bad-reply"
    assert "02:00:5e:10:00:99" not in (folder / "one.log").read_text()


def test_an_absent_port_is_said(probed):
    assert probed[0]["absent"]["error"] == "interface-down"
