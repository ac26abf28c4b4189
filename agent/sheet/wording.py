"""From codes and values to sentences: bounded, harmless text with units."""

from __future__ import annotations

import re
from collections.abc import Mapping

from agent.errors import printable
from agent.record import Measurement, Reason, Scalar
from agent.record.seal import Verification
from agent.sheet.catalogue import areas, figures, findings, words
from agent.sheet.numbers import DASH, quantity
from agent.sheet.said import SAID

SHORT, LINE, SENTENCE = 40, 80, 190
# Characters that reorder or join what stands around them (UAX #9 §2, and zero-width joins).
_REORDERING = re.compile("[\u061c\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]")
# All but the space that ties a number to its unit.
_SPACES = re.compile("[^\\S\u00a0]+")
UNIT_OF_ENDING = (
    ("_bps", "bps"),
    ("_ms", "ms"),
    ("_ratio", "ratio"),
    ("_loss", "ratio"),
    ("_s", "s"),
)
LIKELY_FROM = 0.75


def bounded(value: object, length: int = LINE) -> str:
    """Return one harmless line of at most `length` characters for a text of the record."""
    text = printable(_REORDERING.sub("", str(value)))
    text = _SPACES.sub(" ", text.replace("\N{REPLACEMENT CHARACTER}", " ")).strip()
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"


def word(table: Mapping[str, str], code: str | None, length: int = SHORT) -> str:
    """Return the word of a code, the code itself where there is none, a dash for None."""
    if code is None:
        return DASH
    return table.get(code) or bounded(code, length)


class _Values(dict[str, str]):
    def __missing__(self, name: str) -> str:
        return DASH


def filled(template: str, values: Mapping[str, Scalar]) -> str:
    """Return the template with its values, each with the unit its name states."""
    return template.format_map(_Values({k: value_text(k, v) for k, v in values.items()}))


def bare_name(name: str) -> str:
    """Return the name of a value without the unit that its value will show."""
    ending = next((e for e, _ in UNIT_OF_ENDING if name.endswith(e) and e != "_loss"), "")
    return name.removesuffix(ending).replace("_", " ")


def value_text(name: str, value: Scalar) -> str:
    """Return one value of a code as printed; the unit stands in its name."""
    if isinstance(value, bool):
        return words.TRUE_FALSE[value]
    if not isinstance(value, int | float):
        return DASH if value is None else bounded(value, SHORT)
    unit = "ratio" if name.startswith("loss_") else "count"
    unit = next((unit for ending, unit in UNIT_OF_ENDING if name.endswith(ending)), unit)
    return quantity(value, unit)


def reason_sentence(reason: Reason) -> str:
    """Return why something was not judged, as a sentence."""
    values = dict(reason.values)
    if reason.code == "unfit":
        fact = str(values.get("fact", ""))
        values["fact"] = fitness_phrase(fact, values.get("measured"), str(values.get("unit", "")))
        return _long(words.REASON["unfit"], values)
    if reason.code == "not-measured":
        cause = str(values.get("cause") or values.get("kind") or "")
        values["cause"] = words.KIND.get(cause) or cause_phrase(Reason(code=cause, values=values))
        return _long(words.REASON["not-measured"], values)
    if reason.code == "limited":
        values["by"] = word(figures.LIMITER, str(values.get("by")))
        why = word(figures.LIMITED_WHY, str(values.get("why"))) if values.get("why") else ""
        return _long(words.REASON["limited"], {**values, "why": f" ({why})" if why else ""})
    if "means" in values:
        values["means"] = word(words.METHOD, str(values["means"]))
    template = words.REASON.get(reason.code)
    if template:
        return bounded(filled(template, values), SENTENCE)
    phrase = cause_phrase(reason)
    return f"{phrase[:1].upper()}{phrase[1:]}."


def cause_phrase(reason: Reason) -> str:
    """Return why a measurement was not made, to stand behind a colon."""
    waited = reason.code == "server-busy" and reason.values.get("waited_s")
    template = words.CAUSE.get("server-stays-busy" if waited else reason.code)
    if template:
        return bounded(filled(template, reason.values), LINE)
    known = words.REASON.get(reason.code)
    if known:
        text = bounded(filled(known, reason.values), SENTENCE).rstrip(".")
        return text[:1].lower() + text[1:]
    return words.CAUSE_FALLBACK.format(code=bounded(reason.code, SHORT))


def fitness_phrase(name: str, measured: Scalar, unit: str) -> str:
    """Return a fitness fact as a clause."""
    text = value_text("x", measured)
    if isinstance(measured, int | float) and not isinstance(measured, bool):
        text = quantity(measured, unit if unit in {"bps", "ratio", "ms", "s"} else "count")
    template = words.FITNESS.get(name)
    if template is None:
        return words.FITNESS_UNKNOWN.format(code=bounded(name, SHORT))
    return template.format(measured=text)


def finding_sentence(code: str, values: Mapping[str, Scalar]) -> str:
    """Return what a finding says."""
    template = areas.FINDING.get(code)
    if template is None:
        return findings.FINDING_FALLBACK.format(code=bounded(code, SHORT))
    known = {n: _worded(n, v) if n in SAID else v for n, v in values.items()}
    if isinstance(known.get("fact"), str):
        unit = str(known.get("unit") or "")
        known["fact"] = fitness_phrase(str(known["fact"]), known.get("measured"), unit)
        return _long(template, known)
    lost = code.startswith("loss-")
    way = findings.LOSS_WAY.get(str(known.get("direction"))) if lost else None
    texts = {n: str(v) if n in SAID else value_text(n, v) for n, v in known.items()}
    said = template.format_map(_Values(texts))
    return bounded(said if way is None else f"{said.rstrip('.')}, {way}.", SENTENCE)


def _worded(name: str, value: Scalar) -> Scalar:
    """Return a value in words; what of it came from the network is bounded first."""
    return SAID[name](bounded(value, SHORT) if isinstance(value, str) else value)


def step_texts(code: str) -> tuple[str, str]:
    """Return what to do and what to mind."""
    known = areas.STEP.get(code)
    return known or (findings.STEP_FALLBACK.format(code=bounded(code, SHORT)), "")


def likelihood(confidence: float) -> str:
    """Return the word for a confidence kept as a number."""
    return findings.LIKELY if confidence >= LIKELY_FROM else findings.POSSIBLE


def subject(measurement: Measurement) -> str:
    """Return what a measurement was of: kind, direction, far end."""
    kind = word(words.KIND, measurement.kind)
    direction = words.DIRECTION.get(measurement.direction, "")
    far = words.TO_ROLE.format(role=word(words.ROLE, measurement.role))
    role = "" if measurement.role == "local" else far
    return direction or kind + role if measurement.kind == "throughput" else kind + role


def more(count: int) -> str:
    """Return how many entries stand only in the record, nothing for none."""
    return words.MORE.format(count=count) if count > 0 else ""


def verification_sentence(code: str) -> str:
    """Return what a problem of a verification means."""
    return words.VERIFY.get(code) or f"{words.CAUSE_FALLBACK.format(code=bounded(code, SHORT))}."


def verification_text(found: Verification) -> str:
    """Return the outcome of a verification as sentences."""
    if found.whole:
        return words.VERIFY_REDACTED if found.redacted else words.VERIFY_WHOLE
    return " ".join(verification_sentence(code) for code in found.problems)


def _long(template: str, values: Mapping[str, Scalar]) -> str:
    """Fill a template with clauses that are already bounded."""
    texts = {k: v if isinstance(v, str) else value_text(k, v) for k, v in values.items()}
    return bounded(template.format_map(_Values(texts)), SENTENCE)
