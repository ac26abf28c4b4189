"""What the page says of the largest packet that passes."""

import pytest

from agent.record import MtuStatistics
from agent.sheet.path_rows import path_size


def said(**known):
    return [pair.value for pair in path_size(MtuStatistics(**known))]


@pytest.mark.parametrize(
    ("known", "words"),
    [
        ({"path_mtu_bytes": 1500, "up_limit": "none"}, ("1500",)),
        ({"path_mtu_bytes": 1492, "up_limit": "port"}, ("1492", "laptop", "PPPoE")),
        (
            {"path_mtu_bytes": 1480, "up_limit": "named", "limited_by": "192.0.2.1"},
            ("1480", "192.0.2.1"),
        ),
        (
            {
                "path_mtu_bytes": 1400,
                "up_limit": "silent",
                "vanish_after": "192.0.2.7",
                "tcp_held_down": False,
            },
            ("vanish after 192.0.2.7", "TCP announces more"),
        ),
        (
            {"path_mtu_bytes": 1400, "up_limit": "none", "down_below_bytes": 1401},
            ("do not come back",),
        ),
    ],
)
def test_the_size_is_told_with_who_limits_it(known, words):
    (text,) = said(**known)
    for word in words:
        assert word in text


def test_nothing_is_said_of_what_was_not_measured():
    assert said(not_measured="no-reflector") == []
    assert list(path_size(None)) == []
