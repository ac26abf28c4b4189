"""The page of one measurement alone: what came of it and its statistics, nothing judged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace

from agent.record import Measured, PathStatistics, Record
from agent.sheet.catalogue import words
from agent.sheet.model import Pair, Pairs
from agent.sheet.path_rows import hop_pairs
from agent.sheet.wording import bounded, reason_sentence, subject, value_text, word


def build_single(record: Record) -> tuple[Pairs, ...]:
    """Return one block for each measurement of the record."""
    return tuple(_block(one) for one in record.measured)


def _block(one: Measured) -> Pairs:
    measurement = one.measurement
    title = subject(measurement)
    if measurement.address:
        title = f"{title} · {bounded(measurement.address)}"
    took = value_text("duration_s", measurement.duration_s)
    how = words.HOW_IT_WENT.format(state=word(words.STATE, measurement.state), duration=took)
    pairs = [Pair(label=words.LABEL["came"], value=how)]
    if measurement.reason is not None:
        pairs.append(Pair(label=words.LABEL["reason"], value=reason_sentence(measurement.reason)))
    statistics: object = one.statistics
    if isinstance(statistics, PathStatistics):
        pairs.extend(hop_pairs(statistics))
        statistics = replace(statistics, hops=(), links=(), unplaced=())
    pairs.extend(figures_of(statistics))
    return Pairs(title=title, pairs=tuple(pairs))


def figures_of(value: object, prefix: str = "") -> Iterator[Pair]:
    """Yield one pair for each figure of statistics; those that were not measured are left out."""
    if not is_dataclass(value):
        return
    for name in (f.name for f in fields(value)):
        inner = getattr(value, name)
        label = f"{prefix} {name}".strip()
        if is_dataclass(inner):
            yield from figures_of(inner, label)
        elif isinstance(inner, tuple):
            yield from _listed(inner, label)
        elif inner is not None:
            yield Pair(label=_plain(label), value=value_text(_unit_name(label), inner))


def _listed(inner: tuple[object, ...], label: str) -> Iterator[Pair]:
    for number, entry in enumerate(inner, start=1):
        if is_dataclass(entry):
            yield from figures_of(entry, f"{label} {number}")
    plain = [bounded(_entry(entry)) for entry in inner if not is_dataclass(entry)]
    if plain:
        yield Pair(label=_plain(label), value=", ".join(plain))


def _entry(value: object) -> str:
    """Return one entry as text; what belongs together stands together."""
    return " ".join(map(_entry, value)) if isinstance(value, tuple) else str(value)


def _unit_name(label: str) -> str:
    """Return the field name that states the unit: an inner value has that of its holder."""
    words_of = label.split(" ")
    return words_of[-1] if "_" in words_of[-1] else words_of[0]


def _plain(label: str) -> str:
    return bounded(label.replace("_", " "))
