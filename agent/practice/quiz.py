"""What a trainee is asked after a visit whose fault was hidden: drawn, offered and judged."""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from agent.practice.fault import Fault
from agent.practice.faults import CATALOGUE, find_fault
from agent.practice.homes import HOMES, PLAIN
from agent.practice.line import FaultChoice, Severity

NONE = "none"
PARTS = ("laptop", "home", "modem", "access", "operator", "beyond", NONE)
"""The answers to which part of the way is at fault, outwards."""

OFFERED = 6
FROM_THE_SAME_PART = 3
"""How many faults are offered, the true one among them, and how many of them lie where it does."""

_ALIASES = {"nothing": NONE, "nothingwrong": NONE, "beyondtheoperator": "beyond"}
_NUMBER = re.compile(r"([0-9]{1,3})[.)]?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Quiz:
    """What was played, None for nothing, in which segment, and the faults to choose from."""

    played: FaultChoice | None
    segment: str
    choices: tuple[Fault, ...]

    @property
    def answers(self) -> tuple[str, ...]:
        """Return the answers to which fault it is, in the order of their numbers."""
        return (*(fault.name for fault in self.choices), NONE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What the trainee said: one of `PARTS` and one of the quiz's answers, None for no answer."""

    part: str | None = None
    fault: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Whether each answer is right, None where none was given."""

    part: bool | None
    fault: bool | None


def candidates(
    texts: Sequence[str], severity: Severity, *, probes: bool, down_bps: int
) -> tuple[FaultChoice | None, ...]:
    """Return what may be played, each once: the faults named, "none" among them, or all and none.

    Of all faults those are left out that only a visit with the right to probe could tell, unless
    it `probes`, and those not to be seen on a tier of `down_bps`. Raises UsageError.
    """
    if not texts:
        told = (f for f in CATALOGUE if (probes or not f.probe) and _seen(f, severity, down_bps))
        return (None, *(FaultChoice(name=fault.name, severity=severity) for fault in told))
    named = (None if text == NONE else chosen(text, severity) for text in texts)
    return tuple(dict.fromkeys(named))


def _seen(fault: Fault, severity: Severity, down_bps: int) -> bool:
    return (fault.effects[severity].least_down_bps or 0) <= down_bps


def chosen(text: str, usual: Severity) -> FaultChoice:
    """Return the fault written as NAME, of the usual severity, or NAME:SEVERITY.

    Raises UsageError for a fault or severity that there is not.
    """
    choice = FaultChoice.parse(text)
    find_fault(choice.name)
    return choice if ":" in text else FaultChoice(name=choice.name, severity=usual)


def draw(among: Sequence[FaultChoice | None], seed: int) -> FaultChoice | None:
    """Return one of them, each equally likely over the seeds."""
    return _chance(seed, "fault").choice(among)


def draw_home(seed: int) -> str:
    """Return a sound home, so that its kind does not tell that nothing is wrong."""
    return _chance(seed, "home").choice(tuple(HOMES))


def quiz_of(
    played: FaultChoice | None,
    segment: str,
    *,
    seed: int,
    home: str = PLAIN,
    named: Iterable[FaultChoice | None] = (),
) -> Quiz:
    """Return the quiz on what was played: the true fault and others that could be meant.

    Offered are first those `named`, then faults of the same segment, then others, and those first
    that the `home` played could have. Left out is what no measurement tells from the true one.
    """
    chance = _chance(seed, "choices")
    truth = find_fault(played.name) if played else None
    wanted = {choice.name for choice in named if choice is not None}
    others = [fault for fault in CATALOGUE if not _alike(fault, truth)]
    chance.shuffle(others)
    others.sort(key=lambda fault: (fault.name not in wanted, _foreign(fault, home)))
    chosen = [truth] if truth is not None else []
    near = [f for f in others if truth and f.segment == truth.segment][: FROM_THE_SAME_PART - 1]
    first = [f for f in others if f.name in wanted]
    offered = {fault.name: fault for fault in (*chosen, *first, *near, *others)}
    chosen = list(offered.values())[:OFFERED]
    chance.shuffle(chosen)
    return Quiz(played=played, segment=segment, choices=tuple(chosen))


def _alike(fault: Fault, truth: Fault | None) -> bool:
    """Tell whether the same finding in the same place would name both."""
    if truth is None:
        return False
    same = not set(fault.findings).isdisjoint(truth.findings)
    return fault == truth or (same and fault.segment == truth.segment)


def _foreign(fault: Fault, home: str) -> bool:
    """Tell whether the fault needs another home than the one played."""
    return all(effect.home not in (None, home) for effect in fault.effects.values())


def part_of(text: str) -> str | None:
    """Return the part that an answer names by number or word, None where it names none."""
    return _named(text, PARTS)


def fault_of(quiz: Quiz, text: str) -> str | None:
    """Return the fault that an answer names by number or word, None where it names none."""
    return _named(text, quiz.answers)


def judge(quiz: Quiz, answers: Answers) -> Judged:
    """Return which of the answers are right."""
    truth = quiz.played.name if quiz.played else NONE
    return Judged(part=_right(answers.part, quiz.segment), fault=_right(answers.fault, truth))


def _right(answer: str | None, truth: str) -> bool | None:
    return None if answer is None else answer == truth


def _named(text: str, answers: Sequence[str]) -> str | None:
    numbered = _NUMBER.fullmatch(text.strip())
    if numbered is not None:
        number = int(numbered[1])
        return answers[number - 1] if 1 <= number <= len(answers) else None
    said = _ALIASES.get(_bare(text), _bare(text))
    exact = [answer for answer in answers if _bare(answer) == said]
    begun = [answer for answer in answers if said and _bare(answer).startswith(said)]
    found = exact or begun
    return found[0] if len(found) == 1 else None


def _bare(text: str) -> str:
    return "".join(c for c in text.casefold().removesuffix(" line") if c.isalnum())


def _chance(seed: int, purpose: str) -> random.Random:
    return random.Random(f"{purpose} {seed}")
