"""The captive portal API against the examples and rules of RFC 8908."""

import pytest

from agent.codec.captive import MAX_BYTES, PortalState, is_captive_type, parse_portal_state
from agent.errors import MalformedMessage

# RFC 8908 §6, the two examples.
CAPTIVE = b"""{
   "captive": true,
   "user-portal-url": "https://example.org/portal.html"
}"""
OPEN = b"""{
   "captive": false,
   "user-portal-url": "https://example.org/portal.html",
   "venue-info-url": "https://flight.example.com/entertainment",
   "seconds-remaining": 326,
   "can-extend-session": true
}"""


def test_the_examples_of_the_standard():
    assert parse_portal_state(CAPTIVE) == PortalState(
        captive=True, user_portal_url="https://example.org/portal.html"
    )
    assert parse_portal_state(OPEN) == PortalState(
        captive=False,
        user_portal_url="https://example.org/portal.html",
        venue_info_url="https://flight.example.com/entertainment",
        seconds_remaining=326,
        can_extend_session=True,
    )


def test_an_absent_limit_is_no_limit_and_not_zero():
    """RFC 8908 §5: the keys are omitted where a session has no end."""
    told = parse_portal_state(b'{"captive": false}')
    assert (told.seconds_remaining, told.bytes_remaining) == (None, None)
    spent = parse_portal_state(b'{"captive": false, "bytes-remaining": 0}')
    assert spent.bytes_remaining == 0


def test_unknown_keys_are_ignored():
    """RFC 8908 §5: clients ignore keys that they do not know."""
    assert parse_portal_state(b'{"captive": true, "x": [1, {"y": null}]}').captive is True


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"{}",
        b'{"captive": "true"}',
        b'{"captive": 1}',
        b'{"captive": null}',
        b'{"captive": true, "captive": false}',
        b'{"captive": true, "user-portal-url": "javascript:alert(1)"}',
        b'{"captive": true, "user-portal-url": "https:///x"}',
        b'{"captive": true, "user-portal-url": 5}',
        b'{"captive": true, "user-portal-url": "https://example.org/\\u001b[2J"}',
        b'{"captive": false, "seconds-remaining": -1}',
        b'{"captive": false, "seconds-remaining": 1.5}',
        b'{"captive": false, "bytes-remaining": 1e400}',
        b'{"captive": false, "can-extend-session": 0}',
        b"\xff\xfe{}",
        b'{"captive": true, "x": "' + b"y" * MAX_BYTES + b'"}',
        b"[" * 10_000,
    ],
)
def test_anything_off_is_malformed(body):
    with pytest.raises(MalformedMessage):
        parse_portal_state(body)


@pytest.mark.parametrize(
    ("content_type", "right"),
    [
        ("application/captive+json", True),
        ("Application/Captive+JSON; charset=utf-8", True),
        ("application/json", False),
        ("text/html", False),
        ("", False),
        (None, False),
    ],
)
def test_only_its_own_media_type_counts(content_type, right):
    """RFC 8908 §4."""
    assert is_captive_type(content_type) is right
