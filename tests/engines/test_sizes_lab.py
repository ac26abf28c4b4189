"""Path MTU, who limits it and what TCP makes of it, over real kernels in one network."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

PROGRAM = Path(__file__).with_name("lab_sizes.py")
ROOT = PROGRAM.parents[2]
AS_USER = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]
GATEWAY = {4: "198.18.1.2", 6: "2001:db8:1::2"}
EDGE = {4: "198.18.2.2", 6: "2001:db8:2::2"}
MOST_S = 3.0


def cell(mtu, family=4, **more):
    return {"family": family, "up": mtu, "down": mtu, **more}


CELLS = {
    "plain": cell(1500),
    "pppoe": cell(1492),
    "clamped": cell(1492, swallow=True, clamp=True),
    "hole": cell(1480, swallow=True),
    "down": {"family": 4, "up": 1500, "down": 1400},
    "port": cell(1500, port=1492),
    "plain-6": cell(1500, 6),
    "pppoe-6": cell(1492, 6),
    "hole-6": cell(1400, 6, swallow=True, loss_percent=2),
    "least-6": cell(1280, 6),
}


@pytest.fixture(scope="module")
def found(require_lab):
    own = [] if os.geteuid() == 0 else AS_USER
    argv = ["unshare", *own, "-n", sys.executable, str(PROGRAM)]
    done = subprocess.run(
        [*argv, json.dumps(list(CELLS.values()))],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    return dict(zip(CELLS, map(json.loads, done.stdout.splitlines()), strict=True))


@pytest.mark.parametrize("name", CELLS)
def test_the_value_is_what_the_line_carries(found, name):
    truth = min(CELLS[name]["up"], CELLS[name]["down"], CELLS[name].get("port", 1500))
    assert found[name]["path_mtu_bytes"] == truth
    assert found[name]["not_measured"] is None


@pytest.mark.parametrize(("name", "family"), [("pppoe", 4), ("pppoe-6", 6), ("least-6", 6)])
def test_the_router_that_limits_is_named_with_its_word(found, name, family):
    one = found[name]
    assert one["up_limit"] == "named"
    assert (one["limited_by"], one["named_bytes"]) == (GATEWAY[family], CELLS[name]["up"])


@pytest.mark.parametrize(("name", "family"), [("hole", 4), ("hole-6", 6), ("clamped", 4)])
def test_vanishing_packets_are_placed_between_two_routers(found, name, family):
    one = found[name]
    assert one["up_limit"] == "silent"
    assert one["limited_by"] is None
    assert (one["vanish_after"], one["vanish_before"]) == (GATEWAY[family], EDGE[family])


def test_clamping_is_told_from_a_line_without(found):
    """RFC 6691 §2: an MSS is the MTU less 40 octets, 60 for IPv6."""
    assert (found["clamped"]["tcp_mss_bytes"], found["clamped"]["tcp_held_down"]) == (1452, True)
    assert (found["hole"]["tcp_mss_bytes"], found["hole"]["tcp_held_down"]) == (1460, False)
    assert (found["hole-6"]["tcp_mss_bytes"], found["hole-6"]["tcp_held_down"]) == (1440, False)
    assert found["plain"]["tcp_held_down"] is True


def test_a_limit_downwards_is_not_one_upwards(found):
    one = found["down"]
    assert (one["up_bytes"], one["up_limit"]) == (1500, "none")
    assert (one["down_bytes"], one["down_below_bytes"]) == (1400, 1401)


def test_the_own_port_is_named_as_the_limit(found):
    assert found["port"]["up_limit"] == "port"
    assert found["plain"]["up_limit"] == "none"
