"""The written table of the verdict: what the document says is what the program reads."""

import re
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from visits import judge, visit, with_limits

from agent.assessment.judge import conclude_verdict
from agent.assessment.model import Criterion, FitnessFact, Sense, Verdict
from agent.assessment.verdict_table import VERDICTS, Condition

MEETS, BELOW, OPEN = Verdict.MEETS, Verdict.BELOW, Verdict.NOT_PROVEN
README = Path(__file__).parents[2] / "README.md"
ROW = re.compile(r"^\| \d+ \| (.+?) \| (.+?) \| (.+?) \|$")


def told(text):
    return text.replace("-", " ")


def test_the_document_holds_the_table():
    lines = README.read_text(encoding="utf-8").splitlines()
    head = lines.index("| # | Condition | Verdict | Decided by |")
    written = [ROW.match(line) for line in lines[head + 2 : head + 2 + len(VERDICTS)]]
    assert [m and m.groups() for m in written] == [
        (told(row.condition), told(row.verdict), told(row.reason)) for row in VERDICTS
    ]
    assert not lines[head + 2 + len(VERDICTS)].startswith("|")


def test_every_condition_has_one_row():
    assert sorted(row.condition for row in VERDICTS) == sorted(Condition)


def made(outcome, *, needed=True):
    return Criterion(
        name=f"{outcome}-{needed}",
        measurements=(),
        needed=needed,
        sense=Sense.AT_LEAST,
        unit="count",
        limit=1,
        limit_source="test",
        outcome=outcome,
    )


criteria_of_any_kind = st.lists(
    st.builds(made, st.sampled_from(Verdict), needed=st.booleans()), max_size=6
)
some_facts = st.lists(
    st.sampled_from(["tunnel", "another_line", "wireless", "on_battery"]).map(
        lambda name: FitnessFact(name=name, voids=("all",))
    ),
    max_size=3,
)


@given(criteria_of_any_kind, some_facts, st.booleans())
def test_meets_needs_a_tier_this_line_and_every_needed_criterion(criteria, facts, has_tier):
    verdict, deciding = conclude_verdict(criteria, facts, has_tier=has_tier)
    needed = [c.outcome for c in criteria if c.needed]
    barred = any(f.name in {"tunnel", "another_line"} for f in facts)
    sound = has_tier and not barred
    assert (verdict is MEETS) == (sound and bool(needed) and set(needed) == {MEETS})
    assert (verdict is BELOW) == (sound and BELOW in needed)
    assert (deciding == ()) == (verdict is MEETS)


@given(criteria_of_any_kind, some_facts, st.booleans(), st.data())
def test_a_criterion_that_gets_worse_never_betters_the_verdict(criteria, facts, has_tier, data):
    rank = {BELOW: 0, OPEN: 1, MEETS: 2}
    if not criteria:
        return
    place = data.draw(st.integers(0, len(criteria) - 1))
    worse = data.draw(
        st.sampled_from([o for o in rank if rank[o] <= rank[criteria[place].outcome]])
    )
    spoiled = [replace(c, outcome=worse) if i == place else c for i, c in enumerate(criteria)]
    before = conclude_verdict(criteria, facts, has_tier=has_tier)[0]
    assert rank[conclude_verdict(spoiled, facts, has_tier=has_tier)[0]] <= rank[before]


@pytest.mark.parametrize(("outcome", "other"), list(product(Verdict, repeat=2)))
def test_what_nobody_needs_proves_nothing_alone(outcome, other):
    criteria = [made(outcome, needed=False), made(other, needed=False)]
    assert conclude_verdict(criteria, (), has_tier=True) == (OPEN, ("nothing-judged",))


def test_a_visit_of_advice_only_still_needs_its_rates():
    advice = with_limits(server_loss={"needed": False}, server_delay_median={"needed": False})
    assert judge(visit(), rules=advice).assessment.verdict is MEETS
    idle = visit(without=("throughput-down", "throughput-up"))
    assert judge(idle, rules=advice).assessment.verdict is OPEN
