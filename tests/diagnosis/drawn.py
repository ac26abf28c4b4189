"""The facts that the tests beside this one judge, drawn by running their cases without pytest."""

from __future__ import annotations

import contextlib
import importlib
import inspect
from collections import Counter
from functools import cache
from itertools import product
from pathlib import Path
from unittest import mock

from agent.diagnosis.facts import Facts
from agent.diagnosis.model import Finding
from agent.diagnosis.rule import Rule

HERE = Path(__file__).parent
# What a case may raise that is cut off from its fixtures, or fails, which its own run reports.
ENDS = (AssertionError, LookupError, TypeError, ValueError, AttributeError)


EACH = 2
"""So many visits stand for one finding, and for one fact that rules findings out."""


@cache
def drawn() -> tuple[Facts, ...]:
    """Return facts from the cases of this room: of each finding, and of each exclusion, some."""
    seen: dict[int, Facts] = {}
    counted: Counter[str] = Counter()
    apply = Rule.apply

    def noting(rule: Rule, facts: Facts) -> Finding | None:
        finding = apply(rule, facts)
        told = [rule.code] if finding is not None else []
        told += [f.value for f in rule.ruled_out_by if counted[f.value] < EACH and f.holds(facts)]
        if any(counted[name] < EACH for name in told):
            counted.update(told)
            seen[id(facts)] = facts
        return finding

    with mock.patch.object(Rule, "apply", noting):
        for path in sorted(HERE.glob("test_*.py")):
            if path.stem != "test_rule_table":
                _run(importlib.import_module(path.stem))
    return tuple(seen.values())


def _run(module: object) -> None:
    for name, test in inspect.getmembers(module, inspect.isfunction):
        drawn_by_hypothesis = getattr(test, "is_hypothesis_test", False)
        if name.startswith("test_") and test.__module__ == module.__name__:
            for case in () if drawn_by_hypothesis else _cases(test):
                if set(case) >= set(inspect.signature(test).parameters):
                    with contextlib.suppress(*ENDS):
                        test(**case)


def _cases(test: object) -> list[dict[str, object]]:
    """Return the arguments of each case: every mark's rows crossed with the others'."""
    marks = [m for m in getattr(test, "pytestmark", ()) if m.name == "parametrize"]
    tables = [[_named(m.args[0], row) for row in m.args[1]] for m in marks]
    return [{k: v for part in parts for k, v in part.items()} for parts in product(*tables)]


def _named(names: object, row: object) -> dict[str, object]:
    listed = [n.strip() for n in names.split(",")] if isinstance(names, str) else list(names)
    values = getattr(row, "values", None)
    row = values if isinstance(values, tuple) else row
    single = len(listed) == 1 and not isinstance(values, tuple)
    return dict(zip(listed, (row,) if single else row, strict=True))
