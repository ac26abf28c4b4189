"""What attempts on ports add up to."""

import pytest
from reaching import (
    EXPIRED,
    OPEN,
    REFUSED,
    SILENT,
    UNREACHABLE,
    blocked,
    look,
    port,
    walked,
    whole,
)

from agent.measurements import PortTarget, ReachLook, Transport
from agent.stats.reach import reach_statistics

HOME, EDGE, CORE = "192.0.2.1", "198.51.100.1", "198.51.100.9"


@pytest.mark.parametrize(
    ("attempts", "outcome"),
    [
        ((SILENT, OPEN), "open"),
        ((SILENT, REFUSED), "refused"),
        ((UNREACHABLE, SILENT), "unreachable"),
        ((SILENT, SILENT), "filtered"),
        ((), "untried"),
    ],
)
def test_one_answer_outweighs_silence(attempts, outcome):
    found = reach_statistics(look([port()], [whole(0, one) for one in attempts])).ports[0]
    assert found.outcome == outcome


def test_a_port_that_should_be_closed_is_as_wanted_when_it_is():
    targets = (port(), port("shut", 25, wanted_open=False), port("gone", 26, address=None))
    found = reach_statistics(look(targets, whole(0, OPEN), whole(1, REFUSED)))
    assert [one.as_wanted for one in found.ports] == [True, True, None]
    assert (found.tried, found.as_wanted) == (2, 2)


def test_ports_tried_beside_are_not_counted():
    found = reach_statistics(blocked(HOME, through=(HOME, EDGE, CORE)))
    assert [one.name for one in found.ports] == ["mail"]


def test_how_far_answers_come_is_told_beside_a_port_that_passes():
    (found,) = reach_statistics(blocked(HOME, through=(HOME, EDGE, CORE))).ports
    assert (found.answers_to, found.others_to, found.reached_at) == (1, 3, 4)
    assert found.hops == ((HOME,), (EDGE,), (CORE,))
    assert found.compared_with == 443


def test_a_port_of_another_host_is_no_comparison():
    targets = (port(), port("other", 443, address="192.0.2.81", listed=False))
    attempts = (whole(0, SILENT), walked(0, HOME), walked(1, HOME, EDGE, end=OPEN))
    (found,) = reach_statistics(look(targets, *attempts)).ports
    assert (found.compared_with, found.reached_at) == (None, None)


def test_silent_routers_stay_in_their_place():
    (found,) = reach_statistics(blocked(HOME, None, CORE, through=(HOME, None, CORE))).ports
    assert found.hops == ((HOME,), (), (CORE,))


def test_every_view_of_the_laptop_is_kept_with_its_flow():
    target = PortTarget(name="server", transport=Transport.UDP, port=8650, address="203.0.113.9")
    ends = {"own_address": "192.0.2.20", "own_port": 40_000}
    seen = whole(0, OPEN, seen_address="203.0.113.78", seen_port=1024, **ends)
    found = reach_statistics(
        look([target], seen, own_address="192.0.2.20", card_address="203.0.113.77")
    )
    assert found.seen_addresses == ("203.0.113.77", "203.0.113.78")
    (flow,) = found.sightings
    assert (flow.transport, flow.own_port, flow.seen_port) == (Transport.UDP, 40_000, 1024)


def test_an_attempt_needs_its_target():
    with pytest.raises(ValueError, match="targets"):
        ReachLook(waiting_s=1.0, attempts=(whole(0, EXPIRED),))
