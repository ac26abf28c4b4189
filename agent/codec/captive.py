"""The captive portal API (RFC 8908): what a network says of itself to a device that asks."""

from __future__ import annotations

import re
from dataclasses import dataclass

from agent.codec.document import Document, read_document

# RFC 8908 §4: the one type that an answer may have, and that a request accepts.
MEDIA_TYPE = "application/captive+json"
# RFC 8910 §2: what a network names in place of an API when it has no captive portal.
UNRESTRICTED = "urn:ietf:params:capport:unrestricted"
MAX_BYTES = 16_384

_URL = re.compile(r"https?://[^\s/?#]+[^\s]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class PortalState:
    """The keys of RFC 8908 §5; None where a key is absent, which is no limit of a session."""

    captive: bool
    user_portal_url: str | None = None
    venue_info_url: str | None = None
    can_extend_session: bool | None = None
    seconds_remaining: int | None = None
    bytes_remaining: int | None = None


def is_captive_type(content_type: str | None) -> bool:
    """Tell whether a Content-Type is that of the API; parameters are ignored."""
    return (content_type or "").partition(";")[0].strip().lower() == MEDIA_TYPE


def parse_portal_state(body: bytes) -> PortalState:
    """Return what the API's answer says. Raises MalformedMessage (RFC 8908 §5)."""
    told = read_document(body, "captive portal answer", MAX_BYTES)
    return PortalState(
        captive=told.truth("captive"),
        user_portal_url=_url(told, "user-portal-url"),
        venue_info_url=_url(told, "venue-info-url"),
        can_extend_session=told.maybe("can-extend-session", told.truth),
        seconds_remaining=told.maybe("seconds-remaining", told.whole),
        bytes_remaining=told.maybe("bytes-remaining", told.whole),
    )


def _url(told: Document, name: str) -> str | None:
    text = told.maybe(name, told.text)
    if text is not None and _URL.fullmatch(text) is None:
        told.refuse(name, "is not a web address")
    return text
