"""What the server allows one client bounds how the line is filled."""

import pytest

from agent.codec.card import Limits
from agent.session.filling import within
from agent.settings.model import ThroughputPlan

PLAN = ThroughputPlan(flows=6, seconds=6.0)


def limits(**changes):
    """Return a server's limits."""
    usual = {"seconds": 60.0, "bytes": 10**9, "upload_bytes": 10**9, "flows": 32, "clients": 50}
    return Limits(**(usual | changes))


@pytest.mark.parametrize(
    ("allowed", "flows", "seconds"),
    [
        (None, 6, 6.0),
        (limits(), 6, 6.0),
        (limits(flows=2), 2, 6.0),
        (limits(seconds=4.0), 6, 3.0),
        (limits(seconds=0.5), 6, 1.0),
    ],
)
def test_the_plan_keeps_within_what_the_server_allows(allowed, flows, seconds):
    kept = within(PLAN, allowed)
    assert kept.flows == flows
    assert kept.seconds == pytest.approx(seconds)
