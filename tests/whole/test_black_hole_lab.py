"""A server whose address swallows everything: the visit ends soon, with a reason for each gap."""

import pytest
from bent_visits import visit_bent

from agent.assessment.model import Verdict

pytestmark = [
    pytest.mark.lab,
    pytest.mark.rate,
    pytest.mark.usefixtures("require_lab"),
    pytest.mark.timeout(120),
]

LONGEST_S = 40.0
"""What a technician may be kept by a server that says nothing at all (our own promise)."""

SWALLOWED = (
    "table ip hole { chain forward { type filter hook forward priority 0;"
    " ip daddr {server} drop; }; }"
)
TOWARDS_SERVER = {"delay", "path", "throughput"}


@pytest.fixture(scope="module")
def visit_of_a_black_hole(tmp_path_factory):
    """Visit a healthy line whose operator drops all that is meant for the server."""
    return visit_bent("edge", SWALLOWED, tmp_path_factory.mktemp("reports"))


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
