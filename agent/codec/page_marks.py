"""What a page that came in place of another one shows of itself, found in bounded time.

Not a reading of HTML: only the few marks by which a portal is told from any other page.
"""

from __future__ import annotations

import html
import re
from dataclasses import dataclass

MAX_TITLE = 120
MAX_URL = 300
# No real page puts its marks further in; what lies beyond is not looked at.
MAX_LOOKED_AT = 65_536

_TITLE = re.compile(rb"<title(?:\s[^<>]{0,200})?>([^<]{0,400})", re.IGNORECASE)
# HTML Living Standard §4.10.5.1.6 (password) and §4.10.18.7.1 (cc-number, the autofill field).
_SIGN_IN = re.compile(
    rb"<input\s[^<>]{0,400}?(?:type\s{0,9}=\s{0,9}[\"']?password"
    rb"|autocomplete\s{0,9}=\s{0,9}[\"']?(?:[\w-]{1,40} ){0,3}cc-number)",
    re.IGNORECASE,
)
# HTML Living Standard §4.2.5.3: the refresh state of a meta element.
_META = re.compile(rb"<meta\s([^<>]{0,600})>", re.IGNORECASE)
_REFRESH = re.compile(rb"http-equiv\s{0,9}=\s{0,9}[\"']?refresh", re.IGNORECASE)
_TO = re.compile(rb";\s{0,9}url\s{0,9}=\s{0,9}[\"']?([^\s\"'<>]{1,300})", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class PageMarks:
    """The title, where a refresh leads (as written), and whether sign-in or payment is asked."""

    title: str | None
    refresh: str | None
    asks_sign_in: bool


def read_page_marks(body: bytes) -> PageMarks:
    """Return the marks of a page; texts are one line each, of bounded length."""
    head = body[:MAX_LOOKED_AT]
    title = _TITLE.search(head)
    return PageMarks(
        title=_line(title[1], MAX_TITLE) if title else None,
        refresh=_refresh(head),
        asks_sign_in=_SIGN_IN.search(head) is not None,
    )


def _refresh(head: bytes) -> str | None:
    told = (meta[1] for meta in _META.finditer(head) if _REFRESH.search(meta[1]))
    to = next(filter(None, map(_TO.search, told)), None)
    return _line(to[1], MAX_URL) if to else None


def _line(data: bytes, most: int) -> str | None:
    text = " ".join(html.unescape(data.decode("utf-8", "replace")).split())
    return "".join(c for c in text if c.isprintable())[:most] or None
