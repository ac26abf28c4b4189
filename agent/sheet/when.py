"""Moments of a record as the page tells them: local time of the visit, with its offset."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

from agent.record import Record
from agent.sheet.formats import long_date
from agent.sheet.wording import SHORT, bounded


def local_time(record: Record) -> str:
    """Return when the visit began, local time with its offset."""
    return local_time_of(record.started, record.utc_offset_min)


def local_time_of(started: str, utc_offset_min: int) -> str:
    """Return a moment of a record as local date and time with the offset."""
    began = moment(started, utc_offset_min)
    if began is None:
        return bounded(started, SHORT)
    offset = began.strftime("%z")
    return f"{long_date(began)}, {began:%H:%M:%S} (UTC{offset[:3]}:{offset[3:]})"


def moment(started: str, utc_offset_min: int) -> datetime | None:
    """Return a moment of a record in its own zone, None for a text that is no time."""
    try:
        zone = timezone(timedelta(minutes=max(-1439, min(1439, utc_offset_min))))
        return datetime.fromisoformat(started).astimezone(zone)
    except (ValueError, OverflowError):
        return None
