"""Every code that the program itself can put into a record has words on the sheet."""

import ast
import string
from pathlib import Path

import pytest
from visits import judge, visit

import agent
from agent.assessment.criteria.loaded import RISES
from agent.assessment.evidence import Item, why_missing
from agent.assessment.model import Limiting, Verdict
from agent.errors import CannotMeasure
from agent.measurements import CountedBy, Ended, Kind, Measurement, Medium, Reason, Role, State
from agent.probes.means import ICMP_ECHO, STAMP, means_for
from agent.settings.model import Fitness
from agent.sheet.catalogue import areas, figures, findings, words
from agent.sheet.wording import reason_sentence

ROOT = Path(agent.__file__).parent
# The rooms that write reasons, findings and next steps.
WRITERS = ("assessment", "diagnosis", "probes", "session", "cli")


def constants(*, call, keyword):
    """Return each constant that a call of that name is given for a keyword."""
    found = set()
    for room in WRITERS:
        for path in (ROOT / room).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and getattr(node.func, "id", "") in call:
                    found |= {
                        leaf.value
                        for argument in node.keywords
                        if argument.arg == keyword
                        for leaf in ast.walk(argument.value)
                        if isinstance(leaf, ast.Constant) and isinstance(leaf.value, str)
                    }
    return found


def subclasses(root):
    for one in root.__subclasses__():
        yield one
        yield from subclasses(one)


def test_every_reason_has_words():
    written = constants(call={"Reason"}, keyword="code")
    assert len(written) > 10
    assert written <= set(words.REASON) | set(words.CAUSE)


def test_every_cause_of_a_failed_attempt_has_words():
    assert {one.code for one in subclasses(CannotMeasure)} <= set(words.CAUSE)


def test_every_finding_and_step_has_words():
    rules = {"Rule", "Match", "Finding"}
    codes = constants(call=rules, keyword="code")
    assert len(codes) > 15
    assert codes <= set(areas.FINDING)
    assert constants(call=rules | {"replace"}, keyword="next_step") <= set(areas.STEP)


def test_every_criterion_has_words():
    judged = {criterion.name for criterion in judge(visit()).assessment.criteria}
    assert len(judged) > 10
    assert judged | set(RISES.values()) <= set(words.CRITERION)


def test_every_fact_of_fitness_has_words():
    named = set(Fitness.model_fields)
    assert len(named) > 5
    assert named <= set(words.FITNESS)


def test_every_reason_of_a_limiter_has_words():
    source = (ROOT / "assessment" / "limiter.py").read_text(encoding="utf-8")
    written = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Dict):
            pairs = zip(node.keys, node.values, strict=True)
            written |= {v.value for k, v in pairs if _says_why(k) and isinstance(v, ast.Constant)}
    assert len(written) > 4
    assert written <= set(figures.LIMITED_WHY)


def _says_why(key):
    return isinstance(key, ast.Constant) and key.value == "why"


@pytest.mark.parametrize(
    ("table", "members"),
    [
        (words.VERDICT, Verdict),
        (figures.LIMITER, Limiting),
        (figures.ENDED, Ended),
        (figures.COUNTED_BY, CountedBy),
        (words.STATE, State),
        (words.KIND, Kind),
        (words.ROLE, Role),
        (words.MEDIUM, Medium),
    ],
)
def test_every_member_has_a_word(table, members):
    assert {member.value for member in members} <= set(table)


def test_every_source_of_an_ideal_has_a_word():
    source = (ROOT / "stats" / "figures.py").read_text(encoding="utf-8")
    named = {
        leaf.value
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Ideal"
        for leaf in node.args
        if isinstance(leaf, ast.Constant)
    }
    assert len(named) > 2
    assert named <= set(figures.IDEAL)


def test_a_cause_keeps_its_values_in_the_sentence_of_a_criterion():
    busy = Item(
        measurement=Measurement(
            kind=Kind.THROUGHPUT,
            role=Role.SERVER,
            state=State.FAILED,
            method="none",
            started_s=0.0,
            duration_s=0.0,
            reason=Reason(code="server-busy", values={"wait_s": 90.0}),
        ),
        statistics=None,
    )
    said = reason_sentence(why_missing(busy, Kind.THROUGHPUT, planned=True))
    assert "90 s" in said


@pytest.mark.parametrize(
    "table",
    [words.REASON, words.CAUSE, words.FITNESS, areas.FINDING],
    ids=["reason", "cause", "fitness", "finding"],
)
def test_templates_only_name_plain_values(table):
    for template in table.values():
        for _, name, spec, conversion in string.Formatter().parse(template):
            assert name is None or name.isidentifier()
            assert not spec
            assert not conversion


def test_every_step_that_follows_a_reason_is_known_or_a_sentence():
    for step in findings.STEP_BY_REASON.values():
        assert step in areas.STEP or step.endswith(".")
    assert set(findings.STEP_BY_REASON) <= set(words.REASON)


def test_steps_that_lead_near_the_line_carry_a_caution():
    for code, (text, caution) in areas.STEP.items():
        if "levels" in text:
            assert "taps" in caution, code


def test_every_means_of_delay_has_words():
    every = {means for role in Role for means in means_for(role)}
    assert every | {STAMP} == set(words.METHOD)
    # What is told beside the role and explained under the table: all but the usual two.
    assert set(words.BY_METHOD) == set(figures.NOTE_METHOD) == every - {ICMP_ECHO}


def test_a_silent_means_is_told_by_its_name():
    reason = Reason(code="means-silent", values={"means": "tcp-connect", "probes": 60})
    assert "60 probes" in reason_sentence(reason)
    assert words.METHOD["tcp-connect"] in reason_sentence(reason)
