"""A home router with two addresses: UDP leaves by the other one, and no probe of it is a loss."""

import pytest
from bent_visits import visit_bent

pytestmark = [
    pytest.mark.lab,
    pytest.mark.rate,
    pytest.mark.usefixtures("require_lab"),
    pytest.mark.timeout(120),
]

OTHER = "203.0.113.250"
# Before the router's own translation (srcnat is 100), which keeps its address for all else.
SECOND_ADDRESS = (
    "table ip second { chain out { type nat hook postrouting priority 90;"
    " ip daddr {server} udp dport {port} snat to " + OTHER + "; }; }"
)


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """Visit a healthy line behind a router that sends UDP from another address than TCP."""
    return visit_bent("router", SECOND_ADDRESS, tmp_path_factory.mktemp("reports"))[1]


def test_the_series_says_that_its_probes_came_from_elsewhere(record):
    series = [
        m
        for m in record["measurements"]
        if (m["kind"], m["role"], m["method"]) == ("delay", "server", "stamp")
    ]
    assert {m["observed"]["load"] for m in series} == {"none", "down", "up"}
    assert {m["state"] for m in series} == {"partial"}
    assert {m["reason"]["code"] for m in series} == {"reflector-elsewhere"}
    # The idle series sends that many probes; its own log counts each of them.
    idle = next(m for m in series if m["observed"]["load"] == "none")
    assert idle["reason"]["values"]["packets"] >= len(idle["observed"]["sent_s"])
    assert all(m["statistics"]["loss_ratio"] is None for m in series)


def test_the_line_is_blamed_for_nothing(record):
    assert record["assessment"]["verdict"] != "below"
    assert record["diagnosis"]["segment"] in {"none", "undetermined"}
    rates = [m for m in record["measurements"] if m["kind"] == "throughput"]
    assert {m["state"] for m in rates} == {"complete"}
