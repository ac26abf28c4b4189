"""Columns that describe the same attempts have the same length."""

from __future__ import annotations

from collections.abc import Sized


def require_equal_lengths(of: str, **columns: Sized | None) -> None:
    """Raise ValueError naming the first column that is not as long as the first one given.

    Columns that were not observed are handed in as None and left out.
    """
    known = {name: len(column) for name, column in columns.items() if column is not None}
    if not known:
        return
    first, length = next(iter(known.items()))
    for name, found in known.items():
        if found != length:
            msg = f"the column {name} of {of} has {found} entries, {first} has {length}"
            raise ValueError(msg)
