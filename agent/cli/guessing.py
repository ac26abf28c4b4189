"""`doorstep practice --guess` on the command line: hide, ask, tell."""

from __future__ import annotations

import os
import secrets
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from agent.cli import practising
from agent.cli.dressing import Look, look_of
from agent.cli.guard import say
from agent.cli.output import reports_folder
from agent.cli.visiting import write_pages
from agent.errors import PracticeBroken, UsageError
from agent.practice.faults import find_fault
from agent.practice.line import FaultChoice, Severity
from agent.practice.quiz import (
    NONE,
    PARTS,
    Answers,
    Quiz,
    candidates,
    draw,
    draw_home,
    fault_of,
    judge,
    part_of,
    quiz_of,
)
from agent.practice.runner import Truth, run_practice
from agent.record.store import add_practice, read_record, write_record
from agent.settings.loader import load, pick_tier
from agent.sheet.catalogue import training as said
from agent.sheet.lesson import Taught, lesson_of
from agent.sheet.terminal import console_for, print_choices, print_listings, print_sheet
from agent.sheet.training import training_sheet

if TYPE_CHECKING:
    from agent.cli.practising import PracticeAsked
    from agent.record.model import StoredRecord
    from agent.settings.model import Settings

TRIES = 3
SEEDS = 100_000
LONGEST_ANSWER = 1_000
Ask = Callable[[str, tuple[str, ...], Callable[[str], str | None]], str | None]


def run(asked: PracticeAsked) -> int:
    """Play a fault unnamed, show the page, ask, explain; return 0 where the training ran.

    Record and pages come into the reports folder after the answers. Raises UsageError.
    """
    _refuse_what_tells(asked)
    settings = load(asked.settings, os.environ, {}).settings
    among = _among(asked, settings)
    seed = secrets.randbelow(SEEDS) if asked.seed is None else asked.seed
    drawn = draw(among, seed)
    named = among if asked.faults else ()
    home = draw_home(seed) if drawn is None and asked.home is None else asked.home
    asked = replace(asked, seed=seed, home=home)
    folder = reports_folder(asked.out)
    practising.make_folder(folder)
    with TemporaryDirectory(prefix="doorstep-") as hidden:
        path, truth = _visited(asked, settings, drawn, Path(hidden))
        look = look_of(settings.identity)
        _teach(asked, quiz_with(drawn, truth, seed, named), path, truth, (folder, look))
    return 0


def _refuse_what_tells(asked: PracticeAsked) -> None:
    if asked.json:
        raise UsageError(
            problem="--json cannot be given with --guess: the record would tell the answer.",
            remedy="Leave it out; the record is in the reports folder after the answers.",
        )
    if asked.down or asked.up or asked.loss:
        raise UsageError(
            problem="--guess draws itself what is wrong with the line.",
            remedy="Leave out --down, --up and --loss, or --guess.",
        )


def _among(asked: PracticeAsked, settings: Settings) -> tuple[FaultChoice | None, ...]:
    severity = Severity(asked.severity) if asked.severity else Severity.MEDIUM
    down_bps = pick_tier(settings, asked.tier).down_bps
    return candidates(asked.faults, severity, probes=asked.probe, down_bps=down_bps)


def _visited(
    asked: PracticeAsked, settings: Settings, drawn: FaultChoice | None, hidden: Path
) -> tuple[Path, Truth]:
    """Run the visit with its record in a hidden folder; return the record's file and the truth."""
    line = practising.line_of(asked, settings, (drawn,) if drawn else ())
    _let_visit_write(hidden)
    visit = practising.visit_of(asked, settings, hidden)
    done = run_practice(line, visit, keep=lambda _path, _truth: None, note=say, loopback=False)
    if not done.records:
        raise PracticeBroken(problem="the visit left no record")
    return done.records[0], done.truth


def _let_visit_write(hidden: Path) -> None:
    """Give the hidden folder to the user whom the visit becomes under sudo."""
    from agent.engines.linux_capabilities import Account

    account = Account.calling(os.environ)
    if account.uid is not None and account.gid is not None:
        os.chown(hidden, account.uid, account.gid)


def quiz_with(
    drawn: FaultChoice | None, truth: Truth, seed: int, named: tuple[FaultChoice | None, ...]
) -> Quiz:
    """Return the quiz of what was played; faults that were named are offered first."""
    return quiz_of(
        drawn,
        str(truth.values.get("segment", NONE)),
        seed=seed,
        home=str(truth.values.get("home", "")),
        named=named,
    )


def _teach(
    asked: PracticeAsked, quiz: Quiz, path: Path, truth: Truth, kept_as: tuple[Path, Look]
) -> None:
    folder, look = kept_as
    console = console_for(sys.stdout)
    print_sheet(training_sheet(read_record(path)), console)
    sys.stdout.flush()
    try:
        answers = ask_both(quiz, ask_on_terminal)
    finally:
        stored = add_practice(path, practising.truth_of(truth))
        kept = write_record(stored, folder)
    print_listings(lesson_of(stored.record, taught_of(asked, quiz, answers)), console)
    _write_pages(stored, kept, look)


def _write_pages(stored: StoredRecord, kept: Path, look: Look) -> None:
    write_pages(stored, kept.parent, look)
    say(f"Record and pages: {kept.parent}")


def taught_of(asked: PracticeAsked, quiz: Quiz, answers: Answers) -> Taught:
    """Return truth and answers as the lesson takes them."""
    played, judged = quiz.played, judge(quiz, answers)
    fault = find_fault(played.name) if played else None
    return Taught(
        fault=fault.name if fault else None,
        severity=played.severity.value if played else "",
        sentence=fault.sentence if fault else "",
        segment=quiz.segment,
        findings=fault.findings if fault else (),
        part_said=answers.part,
        fault_said=answers.fault,
        part_right=judged.part,
        fault_right=judged.fault,
        command=_command(asked, played),
    )


def _command(asked: PracticeAsked, played: FaultChoice | None) -> str:
    parts = ["doorstep practice"]
    if played is not None:
        parts.append(f"{played.name}:{played.severity}")
    parts.append(f"--seed {asked.seed}")
    if asked.home is not None:
        parts.append(f"--home {asked.home}")
    return " ".join(parts + (["--probe"] if asked.probe else []))


def ask_both(quiz: Quiz, ask: Ask) -> Answers:
    """Return the answers to both questions; `ask` gets title, answers and reader of each.

    EOFError of `ask` ends the questions with what was answered until then.
    """
    answers = Answers()
    lines = (*(f"{fault.name}: {fault.sentence}" for fault in quiz.choices), said.NOTHING)
    try:
        part = ask(said.ASK_PART, tuple(said.PART[part] for part in PARTS), part_of)
        answers = Answers(part=part)
        fault = ask(said.ASK_FAULT, lines, lambda text: fault_of(quiz, text))
        return Answers(part=part, fault=fault)
    except EOFError:
        say(f"\n{said.NO_ANSWER}")
        return answers


def ask_on_terminal(
    question: str, answers: tuple[str, ...], read: Callable[[str], str | None]
) -> str | None:
    """Return what standard input answers, None after too many answers that are none of these.

    Raises EOFError where standard input ends.
    """
    print_choices(question, answers, sys.stderr)
    for _ in range(TRIES):
        text = _line()
        found = read(text)
        if found is not None:
            return found
        shown = repr(text.strip()[:40]) if text.strip() else said.SAID_NOTHING
        say(said.AGAIN.format(said=shown, count=len(answers)))
    say(said.NOT_TAKEN)
    return None


def _line() -> str:
    """Return the next line of standard input, bounded. Raises EOFError."""
    sys.stderr.write(said.PROMPT)
    sys.stderr.flush()
    text = sys.stdin.buffer.readline(LONGEST_ANSWER).decode(errors="replace")
    if not sys.stdin.isatty():
        sys.stderr.write("\n")
    if not text:
        raise EOFError
    return text
