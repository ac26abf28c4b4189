"""The words of the language that is being spoken: a package of tables for each language.

The language is the one thing that every text of a page depends on, so it is the one ambient value:
`speaking` sets it for what runs inside, in this thread or task alone, as a message catalogue does.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from importlib import import_module
from typing import TYPE_CHECKING

LANGUAGES = ("en", "de")
"""Languages that every text stands in; the first is spoken where nothing else is asked for."""

__all__ = (
    "LANGUAGES",
    "areas",
    "compare",
    "customer",
    "figures",
    "findings",
    "language",
    "locale_tag",
    "readings",
    "since",
    "speaking",
    "tiers",
    "training",
    "values",
    "words",
)

_LOCALE: ContextVar[str] = ContextVar("locale", default=LANGUAGES[0])


@contextmanager
def speaking(tag: str) -> Iterator[None]:
    """Write everything inside in the language of a tag such as "de" or "en-GB" (BCP 47)."""
    token = _LOCALE.set(tag)
    try:
        yield
    finally:
        _LOCALE.reset(token)


def locale_tag() -> str:
    """Return the tag that is being spoken, region included."""
    return _LOCALE.get()


def language() -> str:
    """Return the language that is being spoken; the first where it has no words."""
    spoken = _LOCALE.get().replace("_", "-").split("-")[0].lower()
    return spoken if spoken in LANGUAGES else LANGUAGES[0]


class _Spoken:
    """Looks a table up in the package of the language that is being spoken."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, table: str) -> object:
        return getattr(import_module(f"agent.sheet.{language()}.{self._name}"), table)


if TYPE_CHECKING:
    # Every language has the tables of the first, so its modules tell the types of all.
    from agent.sheet.en import (
        areas,
        compare,
        customer,
        figures,
        findings,
        readings,
        since,
        tiers,
        training,
        values,
        words,
    )
else:

    def __getattr__(name: str) -> _Spoken:
        if name not in __all__:
            raise AttributeError(name)
        return _Spoken(name)
