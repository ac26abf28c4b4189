"""`practice --guess` on the command line: what it refuses, how it asks, where the answers go."""

from io import BytesIO, TextIOWrapper

import pytest
from typer.testing import CliRunner

from agent.cli.app import app
from agent.cli.guessing import ask_both, ask_on_terminal, quiz_with
from agent.practice.line import FaultChoice
from agent.practice.quiz import PARTS, Answers, part_of, quiz_of
from agent.practice.runner import Truth

QUIZ = quiz_of(FaultChoice(name="dead-dns"), "operator", seed=4)


@pytest.fixture
def answered(monkeypatch):
    """Ask both questions with these lines on standard input."""

    def ask(typed):
        content = typed if isinstance(typed, bytes) else typed.encode()
        monkeypatch.setattr("sys.stdin", TextIOWrapper(BytesIO(content), encoding="utf-8"))
        return ask_both(QUIZ, ask_on_terminal)

    return ask


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--json",), "--json cannot be given with --guess"),
        (("--down", "50M"), "leave out --down"),
        (("--loss", "0.1"), "leave out --down"),
        (("no-such-fault",), "no-such-fault"),
        (("lossy-line:dreadful",), "dreadful"),
        (("--severity", "dreadful"), "dreadful"),
        (("--tier", "no such tier"), "no such tier"),
        (("--home", "castle"), "dual-stack"),
    ],
)
def test_what_would_tell_or_cannot_be_is_one_clear_error_before_anything_is_built(
    options, said, tmp_path
):
    out = f"--out={tmp_path}"
    done = CliRunner().invoke(app, ["practice", "--guess", "--seed=1", out, *options])
    assert done.exit_code == 2
    assert said.lower() in " ".join(done.stderr.lower().split())
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("typed", "answers"),
    [
        ("operator\ndead-dns\n", Answers(part="operator", fault="dead-dns")),
        ("5\nnone", Answers(part="operator", fault="none")),
        ("what\n\n5\ndead-dns\n", Answers(part="operator", fault="dead-dns")),
        ("x\ny\nz\ndead-dns\n", Answers(fault="dead-dns")),
        ("operator\na\nb\nc\ndead-dns\n", Answers(part="operator")),
        ("operator\n", Answers(part="operator")),
        ("", Answers()),
        (b"\xff\xfe\noperator\ndead-dns\n", Answers(part="operator", fault="dead-dns")),
        ("x" * 5000 + "\n", Answers()),
    ],
)
def test_answers_are_lines_and_bad_ones_are_asked_again_three_times(answered, typed, answers):
    assert answered(typed) == answers


def test_the_end_of_input_is_said_and_so_is_what_was_none_of_the_answers(answered, capsys):
    answered("\x1b[31mred\n")
    told = capsys.readouterr()
    assert "is none of these. Give a number from 1 to 7, or the word." in told.err
    assert "No answer came" in told.err
    assert "\x1b[31mred" not in told.err
    assert told.out == ""


def test_three_bad_answers_go_on_to_the_next_question(answered, capsys):
    answered("x\ny\nz\n5\n")
    assert "Three answers that are none of these" in capsys.readouterr().err


def test_the_first_question_names_no_fault(monkeypatch, capsys):
    monkeypatch.setattr("sys.stdin", TextIOWrapper(BytesIO(b"modem\n")))
    assert ask_on_terminal("Which part?", PARTS, part_of) == "modem"
    asked = capsys.readouterr().err
    assert not any(fault.name in asked for fault in QUIZ.choices)


def test_the_quiz_takes_segment_and_home_from_what_was_really_played():
    truth = Truth(fault=None, severity=None, values={"segment": "access", "home": "dual-stack"})
    assert quiz_with(None, truth, 1, ()).segment == "access"


def test_named_faults_are_offered_also_where_nothing_wrong_was_named():
    truth = Truth(fault=None, severity=None, values={"segment": "none", "home": "ipv4-only"})
    named = (None, FaultChoice(name="slow-site"), FaultChoice(name="clock-wrong"))
    assert {"slow-site", "clock-wrong"} <= set(quiz_with(None, truth, 1, named).answers)
