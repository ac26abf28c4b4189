"""Confidence after counts of played faults."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.diagnosis import calibration
from agent.diagnosis.calibration import COUNTED, JUDGEMENT_WEIGHS, calibrated
from agent.diagnosis.table import RULES

BY_CODE = {rule.code: rule for rule in RULES}


def test_only_findings_of_the_table_are_counted_and_never_more_right_than_reported():
    assert set(COUNTED) <= set(BY_CODE)
    assert all(0 <= right <= of and of > 0 for right, of in COUNTED.values())


@pytest.mark.parametrize("code", sorted(COUNTED))
def test_counts_move_judgement_towards_what_was_seen(code):
    rule, (right, of) = BY_CODE[code], COUNTED[code]
    found, seen = calibrated(rule, rule.confidence), right / of
    assert min(rule.confidence, seen) <= found <= max(rule.confidence, seen)


def test_the_mean_of_a_beta_distribution(monkeypatch):
    """Four visits' worth of 0.75 and eight of eight: (3 + 8) / (4 + 8)."""
    rule = BY_CODE["line-drops"]
    monkeypatch.setattr(calibration, "COUNTED", {rule.code: (8, 8)})
    assert JUDGEMENT_WEIGHS == 4
    stated = rule.confidence
    assert calibrated(rule, stated) == pytest.approx((4 * stated + 8) / 12)


@given(st.sampled_from(sorted(BY_CODE)), st.floats(0.0, 1.0))
def test_what_a_rule_states_of_one_visit_is_left(code, stated):
    rule = BY_CODE[code]
    assert stated == rule.confidence or calibrated(rule, stated) == stated


def test_what_was_never_counted_keeps_its_judgement():
    for rule in RULES:
        if rule.code not in COUNTED:
            assert calibrated(rule, rule.confidence) == rule.confidence
