"""A whole visit on a stand-in for Windows, against a real server on loopback."""

import json
import re
import select
import subprocess
import sys
from pathlib import Path

import pytest

PROGRAM = Path(__file__).with_name("as_windows.py")
ROOT = PROGRAM.parents[2]
STARTING_S, VISITING_S = 20.0, 90.0


@pytest.fixture
def server():
    """A server on free ports of loopback; yields its URL."""
    asked = [sys.executable, "-m", "agent", "serve", "--host", "127.0.0.1", "--port", "0"]
    process = subprocess.Popen(
        [*asked, "--reflector-port", "0"], cwd=ROOT, stderr=subprocess.PIPE, bufsize=0
    )
    try:
        assert select.select([process.stderr], [], [], STARTING_S)[0]
        yield re.search(rb"http://[0-9.:]+", process.stderr.readline())[0].decode()
    finally:
        process.terminate()
        process.wait(STARTING_S)
        process.stderr.close()


@pytest.mark.loopback
def test_a_visit_measures_by_the_systems_own_calls_and_fails_no_line(server, tmp_path):
    asked = ["visit", "--server", server, "--interface", "lo", "--without", "throughput"]
    visit = subprocess.run(
        [
            sys.executable,
            str(PROGRAM),
            *asked,
            "--nothing-else-on",
            "--json",
            "--out",
            str(tmp_path),
        ],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
        capture_output=True,
        check=False,
        timeout=VISITING_S,
    )
    assert visit.stdout, visit.stderr.decode()
    record = json.loads(visit.stdout)
    assert record["agent"]["unverified_system"] == "Windows"
    assert {one["unverified_system"] for one in record["conditions"]} == {"Windows"}
    assert record["assessment"]["verdict"] != "below"
    assert not [c for c in record["assessment"]["criteria"] if c["outcome"] == "below"]
    assert "unverified_system" in [fact["name"] for fact in record["assessment"]["fitness"]]
    done = {(m["kind"], m["method"]): m for m in record["measurements"] if m["observed"]}
    assert done["lease", "system"]["observed"]["origin"] == "unknown"
    assert done["path", "icmp"]["observed"]["protocol"] == "icmp"
    assert set(done["delay", "stamp"]["observed"]["outcome"]) == {"answered"}
    assert done["delay", "stamp"]["clock"] == "user"
