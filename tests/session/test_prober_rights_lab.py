"""The prober without a right of its own: raw ICMP sockets reach it over the channel."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab")]

ROOT = Path(__file__).parents[2]
PLAIN_LAB = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]
LAB = ["unshare", *(PLAIN_LAB if os.geteuid() else []), "-n"]

PROBING = """
import json, os, signal, sys
from pathlib import Path
from agent.clock import SystemClock
from agent.engines.rights import split_rights
from agent.measurements import Role
from agent.ports.binding import Binding
from agent.session.prober.client import ProberClient
from agent.session.prober.order import Order, SeriesOrder
from agent.settings.model import EchoPlan

rights = split_rights(False)
held = len(rights.pool)
prober = ProberClient.start(rights.take_raw_icmp)
under_way = prober.begin(Order(
    origin_s=SystemClock().monotonic_s(),
    binding=Binding(interface="lo"),
    load="down",
    plan=EchoPlan(count=20, interval_s=0.005, waiting_s=0.5),
    within_s=10.0,
    series=(SeriesOrder(role=Role.GATEWAY, method="icmp-echo", address="127.0.0.1"),),
))
prober.heard(0, "done", 10.0)
(measured,), _ = under_way.results()
status = Path(f"/proc/{prober.pid}/status").read_text()
rows = dict(line.split(":", 1) for line in status.splitlines())
print(json.dumps({
    "held": held,
    "left": len(rights.pool),
    "state": measured.state,
    "reason": measured.reason and measured.reason.code,
    "outcome": measured.observed and measured.observed.outcome,
    "rights": int(rows["CapEff"], 16),
    "prober": prober.pid,
}), flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""


def probed(groups):
    """Return what a prober found on a computer whose groups may or may not open datagram ICMP."""
    told = f"&& echo '{groups}' > /proc/sys/net/ipv4/ping_group_range" if groups else ""
    script = f'ip link set lo up {told} && exec "$0" -c "$@"'
    done = subprocess.run(
        [*LAB, "sh", "-c", script, sys.executable, PROBING],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.stdout, done.stderr
    return json.loads(done.stdout)


def groups_that(*, may):
    """Return the range of groups to set; a mapped user knows one group, and starts with none."""
    if os.geteuid() == 0:
        return "0 1000" if may else "1 0"
    return "1000 1000" if may else ""


@pytest.mark.parametrize("may", [False, True], ids=["raw sockets", "datagram sockets"])
def test_echo_works_without_any_right_and_the_prober_dies_with_a_killed_visit(may):
    found = probed(groups_that(may=may))
    assert (found["state"], found["reason"]) == ("complete", None)
    assert set(found["outcome"]) == {"answered"}
    assert found["rights"] == 0
    assert found["held"] - found["left"] == (0 if may else 1)
    assert gone(found["prober"])


def gone(pid, tries=50):
    """Tell whether a process ends within a while: its parent's death is told by a signal."""
    waiting = (
        f"for i in $(seq {tries}); do [ -e /proc/{pid}/exe ] || exit 0; sleep 0.1; done; exit 1"
    )
    return subprocess.run(["sh", "-c", waiting], check=False).returncode == 0
