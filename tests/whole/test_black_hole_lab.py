"""A server whose address swallows everything: the visit ends soon, with a reason for each gap."""

import json
import os
import subprocess

import pytest

from agent.assessment.model import Verdict
from agent.practice import runner
from agent.practice.network import PracticeNetwork
from agent.practice.tiers import line_for
from agent.settings.choose import pick_tier
from agent.settings.loader import load

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab"), pytest.mark.timeout(120)]

LONGEST_S = 40.0
"""What a technician may be kept by a server that says nothing at all (our own promise)."""

SWALLOWED = (
    "table ip hole { chain forward { type filter hook forward priority 0; ip daddr %s drop; }; }"
)
TOWARDS_SERVER = {"delay", "path", "throughput"}


@pytest.fixture(scope="module")
def visit_of_a_black_hole(tmp_path_factory):
    """Visit a healthy line whose operator drops all that is meant for the server."""
    settings = load(None, {}, {}).settings
    tier = pick_tier(settings, "Tern Bay 100/20")
    asked = runner.PracticeVisit(
        settings=settings, reports=tmp_path_factory.mktemp("reports"), tier=tier.name
    )
    with PracticeNetwork(line_for(tier, rtt_ms=20)) as network:
        rule = SWALLOWED % network.addresses.server
        network.edge.run(["nft", rule], timeout=10, check=True)
        process = network.laptop.popen(
            runner.visit_command(network, asked),
            stdin=None,
            stdout=subprocess.DEVNULL,
            stderr=None,
            env=runner.visit_environment(os.environ),
            plain=True,
            files={runner.SETTINGS_FILE: runner._settings_for(network, asked)},
        )
        code = process.wait(timeout=90)
    (found,) = asked.reports.glob("*/record.json")
    return code, json.loads(found.read_text())


def test_the_visit_says_that_it_proves_nothing(visit_of_a_black_hole):
    code, record = visit_of_a_black_hole
    assert code == 4
    assert record["assessment"]["verdict"] == Verdict.NOT_PROVEN


def test_the_visit_is_over_soon(visit_of_a_black_hole):
    _, record = visit_of_a_black_hole
    ends_s = [m["started_s"] + m["duration_s"] for m in record["measurements"]]
    assert max(ends_s) <= LONGEST_S


def test_each_missing_measurement_has_its_reason(visit_of_a_black_hole):
    _, record = visit_of_a_black_hole
    missing = [m for m in record["measurements"] if m["state"] != "complete"]
    assert all(m["reason"]["code"] for m in missing)
    assert {m["kind"] for m in missing} <= TOWARDS_SERVER
    transfers = [m for m in record["measurements"] if m["kind"] == "throughput"]
    assert {m["direction"] for m in transfers} == {"down", "up"}
    assert {m["reason"]["code"] for m in transfers} == {"timed-out"}


def test_what_does_not_need_the_server_is_measured(visit_of_a_black_hole):
    _, record = visit_of_a_black_hole
    complete = {(m["kind"], m["role"]) for m in record["measurements"] if m["state"] == "complete"}
    assert {"link", "lease", "dns", "http"} <= {kind for kind, _ in complete}
    assert ("delay", "gateway") in complete
