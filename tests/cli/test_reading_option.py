"""`--reading` on the command line: what its help tells, and how it comes into a visit."""

import pytest
from typer.testing import CliRunner

from agent.cli.app import app
from agent.cli.asked import Asked
from agent.cli.requesting import request_for
from agent.errors import UsageError
from agent.measurements.by_hand import FIGURES, ReadAt, ReadWhat
from agent.record.model import Reading
from agent.settings.loader import load

LOADED = load(None, {}, {})


def request(*readings, **changes):
    return request_for(Asked(readings=readings, no_probe=True, **changes), LOADED, None)


def test_the_help_names_every_code_and_unit_and_what_must_not_be_done_for_a_reading():
    done = CliRunner().invoke(app, ["visit", "--help"], env={"COLUMNS": "200"})
    said = " ".join(done.stdout.split("--reading")[1].replace("-\n", "-").split()).replace(
        "- ", "-"
    )
    codes = {*ReadAt, *ReadWhat} | {figure.unit for figure in FIGURES.values()} - {"ratio", "count"}
    assert [code for code in codes if code not in said] == []
    assert "trained and allowed" in said
    assert "open no tap and no powered plant" in said
    assert "never look into a fibre" in said


def test_readings_come_into_the_request_with_the_range_of_the_line():
    typed = ("modem downstream-level 3,1 dBmV", "tap downstream-level 14 dBmV")
    near = Reading(
        where="modem",
        what="downstream-level",
        value=3.1,
        unit="dBmV",
        usual_low=-8.0,
        usual_high=8.0,
        source="common practice, no source",
    )
    far = Reading(where="tap", what="downstream-level", value=14.0, unit="dBmV")
    assert request(*typed, access="cable").readings == (near, far)
    # The tier says what line it is where nobody does.
    assert request(*typed, tier="Tern Bay 100/20").readings == (near, far)
    assert request(*typed, access="dsl").readings[0].usual_low is None
    assert request().readings == ()


def test_a_bad_reading_is_refused_before_the_customer_is_asked_anything(monkeypatch):
    monkeypatch.setattr("agent.cli.requesting.typer.confirm", pytest.fail)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    with pytest.raises(UsageError, match="--reading"):
        request("modem downstream-level three dBmV")
