"""Saved runs judged: the rows, their spread and the binomial test; nothing is measured here."""

import json
import math
import sys

import pytest
import real_intervals


def run(direction, goodput, half=0.5, ideal=100.0):
    return {
        "line": "100/20 20",
        "direction": direction,
        "ideal_bps": ideal,
        "goodput_bps": goodput,
        "low_bps": goodput - half,
        "high_bps": goodput + half,
        "single_flow_bps": None,
        "flows": 2,
        "seconds": 3.4,
        "bytes": 4e7,
        "ended": "interval",
    }


def cells(row):
    return dict(zip(real_intervals.HEAD, row, strict=True))


def test_the_tail_is_that_of_a_printed_table():
    """Binomial distribution, n 20, p 0.95: P(X <= 17) = 0.0755, as in printed tables
    (from memory: P(X <= 2) = 0.9245 for p 0.05)."""
    assert real_intervals.binomial_tail(17, 20, 0.95) == pytest.approx(1 - 0.9245, abs=5e-5)
    assert real_intervals.binomial_tail(20, 20, 0.95) == pytest.approx(1.0)


def test_directions_are_judged_apart_and_together():
    runs = [run("down", 100.1), run("down", 99.9), run("up", 100.0), run("up", 101.0)]
    down, up, both = map(cells, real_intervals.judged(runs))
    assert (down["held"], up["held"], both["held"]) == ("2/2", "1/2", "3/4")
    assert float(down["sd %"]) == pytest.approx(math.sqrt(0.02), abs=5e-4)
    assert float(both["P(so few)"]) == pytest.approx(1 - 0.95**4, abs=5e-4)


def test_a_run_without_an_interval_does_not_hold():
    bare = run("down", 100.0) | {"low_bps": None, "high_bps": None}
    (only,) = real_intervals.judged([bare])
    assert cells(only)["held"] == "0/1"


def test_what_several_invocations_saved_is_judged_as_one(tmp_path, monkeypatch, capsys):
    kept = tmp_path / "runs.jsonl"
    kept.write_text("".join(json.dumps(run("down", 100.0)) + "\n" for _ in range(3)))
    monkeypatch.setattr(sys, "argv", ["real_intervals.py", "--judge", str(kept)])
    real_intervals.main()
    assert "3/3" in capsys.readouterr().out
