"""Each limiter provoked for real on the practice network, and a plain slow line beside them.

Nothing is patched: a processor quota, a second flow, a server behind a slow port, a small receive
buffer. A busy laptop whose program asks for little stays the line's.
"""

import contextlib
import json
import os
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [
    pytest.mark.lab,
    pytest.mark.rate,
    pytest.mark.usefixtures("require_lab"),
    pytest.mark.timeout(120),
]

PROGRAM = str(Path(__file__).with_name("lab_limits.py"))
ROOT = str(Path(__file__).parents[2])

SLOW = {"down_bps": 50_000_000, "up_bps": 5_000_000, "rtt_ms": 20}
SOUND = {"down_bps": 110_000_000, "up_bps": 22_000_000, "rtt_ms": 20}
FAST = {"down_bps": 1_000_000_000, "up_bps": 1_000_000_000, "rtt_ms": 20}
FAST_TIER = {"down_bps": 900_000_000, "up_bps": 900_000_000}
# The kernel grants no less than a millisecond a period. Dropping what the kernel has kept takes
# hardly any time, so the buffers are bounded: emptied four times a second they carry a third of the
# tier at most, and still hold more than the line has under way.
QUOTA_SHARE = 0.004
PERIOD_US = 250_000
BOUNDED_BUFFER_BYTES = 1 << 19
MEMBERS = "cgroup.procs"
GROUPS = (Path("/sys/fs/cgroup/cpu"), Path("/sys/fs/cgroup"))
SERVER_PORT_BPS = 40_000_000


@pytest.fixture(autouse=True)
def _imports(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", ROOT)


@dataclass
class Stage:
    """A running network with a server, and the client that waits to be let go."""

    network: PracticeNetwork
    client: object
    port: int
    url: str


@contextmanager
def stage(line, direction, *, capacity_bps=0, **more):
    """Build a line with a server and a client that is ready to measure."""
    with PracticeNetwork(LineSpec(seed=3, congestion="reno", **line)) as network:
        serve = [sys.executable, PROGRAM, "serve", network.server.address, str(capacity_bps)]
        with running(network.server, serve) as server:
            port = json.loads(server.stdout.readline())
            url = f"http://{network.server.address}:{port}/card"
            told = json.dumps(more)
            visit = [sys.executable, PROGRAM, "visit", url, network.interface, direction, told]
            with running(network.laptop, visit, stdin=-1) as client:
                assert client.stdout.readline(), client.stderr.read().decode()
                yield Stage(network, client, port, url)


@contextmanager
def running(host, command, **streams):
    """Run a program on a host while the block lasts."""
    with host.popen(command, **streams) as process:
        try:
            yield process
        finally:
            process.kill()
            process.wait(10)


def let_go(stage, *, then=lambda: None):
    """Let the client measure, do what follows, and return what it judged."""
    hear(stage.client, "measured")
    then()
    return hear(stage.client)


def hear(client, expected=None):
    """Let the client go on to its next word, and return it."""
    client.stdin.write(b"\n")
    client.stdin.flush()
    line = client.stdout.readline()
    assert line, client.stderr.read().decode()
    word = json.loads(line)
    assert expected is None or word == expected
    return word


def only(judged):
    """Return limiter, outcome and reason code of the one transfer."""
    (limiter,) = judged["limiters"]
    rate = judged["criterion"]
    reason = rate["reason"] and rate["reason"]["code"]
    return limiter, rate["outcome"], reason


def test_a_plain_slow_line_is_the_line():
    with stage(SLOW, "up") as ready:
        judged = let_go(ready)
    limiter, outcome, reason = only(judged)
    assert limiter["limiter"] == "line", json.dumps(judged["sights"])
    assert (outcome, reason) == ("below", "single-measurement")
    assert judged["conditions"][0]["other_traffic_bps"] == pytest.approx(0, abs=500_000)


def test_a_slow_line_stays_the_line_on_a_busy_laptop():
    """Every processor is taken by other programs; ours asks for a few hundredths of one."""
    hog = ["sh", "-c", "while :; do :; done"]
    with stage(SLOW, "down") as ready, contextlib.ExitStack() as hogs:
        for _ in range(len(os.sched_getaffinity(0))):
            hogs.enter_context(running(ready.network.laptop, hog))
        judged = let_go(ready)
    limiter, outcome, _ = only(judged)
    assert max(judged["conditions"][0]["core_ratios"]) > 0.95
    assert limiter["limiter"] == "line", json.dumps(judged["sights"])
    assert outcome == "below"


def test_two_measurements_of_a_slow_line_agree():
    with stage(SLOW, "up", times=2) as ready:
        judged = let_go(ready)
    assert [one["limiter"] for one in judged["limiters"]] == ["line", "line"], json.dumps(
        judged["sights"]
    )
    assert (judged["criterion"]["outcome"], judged["criterion"]["reason"]) == ("below", None)


def test_a_small_receive_buffer_is_the_window():
    """A window per round trip of 60 ms (RFC 6349 §3.3.1), times the flows."""
    with stage(SOUND | {"rtt_ms": 60}, "down", receive_buffer_bytes=16_384) as ready:
        judged = let_go(ready)
    limiter, outcome, reason = only(judged)
    assert (limiter["limiter"], limiter["values"]["end"]) == ("window", "laptop"), json.dumps(
        judged["sights"]
    )
    assert (outcome, reason) == ("not-proven", "limited")
    allowed = limiter["values"]["window_bytes"] * 8 / 0.060
    assert judged["criterion"]["measured"] == pytest.approx(allowed, rel=0.2)


def test_a_second_flow_of_this_laptop_is_other_traffic():
    with stage(SOUND, "down", tier={"down_bps": 110_000_000}) as ready:
        beside = [PROGRAM, "second-flow", ready.network.server.address, str(ready.port)]
        with running(ready.network.laptop, [sys.executable, *beside]) as other:
            assert json.loads(other.stdout.readline()) == "flowing"
            judged = let_go(ready)
    limiter, outcome, reason = only(judged)
    assert limiter["limiter"] == "other-traffic", json.dumps(judged["sights"])
    assert (outcome, reason) == ("not-proven", "limited")
    assert judged["conditions"][0]["other_traffic_bps"] == limiter["values"]["other_bps"]


def narrow(network):
    """Let the server's own port send no faster than its card says."""
    shape = f"tc qdisc add dev eth0 root tbf rate {SERVER_PORT_BPS} burst 20kb latency 80ms"
    network.server.run(shape.split(), timeout=10, check=True)


@pytest.mark.parametrize(("told", "expected"), [(True, "server"), (False, "line")])
def test_a_small_server_is_known_by_its_card_alone(told, expected):
    """Seen from the laptop a slow server and a slow line are the same."""
    capacity = SERVER_PORT_BPS if told else 0
    with stage(SOUND, "down", capacity_bps=capacity) as ready:
        narrow(ready.network)
        judged = let_go(ready)
    limiter, outcome, _ = only(judged)
    assert limiter["limiter"] == expected, json.dumps(judged["sights"])
    assert outcome == ("not-proven" if told else "below")


def test_a_processor_quota_is_the_laptop():
    """Only the transfer runs under the quota, not what comes before and after."""
    brief = {"mode": "fixed", "seconds": 1.5}
    with (
        quota(QUOTA_SHARE) as group,
        stage(
            FAST,
            "down",
            tier=FAST_TIER,
            plan=brief,
            receive_buffer_bytes=BOUNDED_BUFFER_BYTES,
        ) as ready,
    ):
        process = str(process_with(ready.url))
        (group / MEMBERS).write_text(process)
        judged = let_go(ready, then=lambda: (group.parent / MEMBERS).write_text(process))
    limiter, outcome, reason = only(judged)
    assert limiter["limiter"] == "laptop", json.dumps(judged["sights"])
    assert (outcome, reason) == ("not-proven", "limited")


@contextmanager
def quota(share):
    """Yield a control group whose members together get a share of one processor.

    Skips where this user may not make one.
    """
    group = next((g for g in GROUPS if (g / MEMBERS).exists()), GROUPS[-1]) / "doorstep-test"
    allowed_us = int(share * PERIOD_US)
    try:
        group.mkdir()
    except OSError as error:
        pytest.skip(f"no control group may be made here: {error}")
    try:
        if (group / "cpu.max").exists():
            (group / "cpu.max").write_text(f"{allowed_us} {PERIOD_US}")
        else:
            (group / "cpu.cfs_quota_us").write_text(str(allowed_us))
        yield group
    finally:
        group.rmdir()


def process_with(argument):
    """Return the process, as this namespace numbers it, that was started with an argument."""
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            if argument.encode() in (folder / "cmdline").read_bytes().split(b"\0"):
                return int(folder.name)
    raise LookupError(argument)
