"""A laptop's own check: kept on the bench, carried by later records, held against no line."""

import json
import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import healthy
from visits import calm, down, judge, link, visit

from agent.cli.laptop_file import MOST_CHECKS, Laptop, keep_check, new_device_id, read_laptop
from agent.cli.self_check import check_of, require_throughput, with_link
from agent.errors import UsageError
from agent.measurements import Direction, Kind, LaptopCheck, Medium, Reason, State
from agent.record.typed import document_of, record_of
from agent.session.request import VisitRequest

ROOT = Path(__file__).parents[2]
CUT = Reason(code="cut-short")
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
CHECK = LaptopCheck(
    device_id="00ff",
    checked="2026-02-20T09:00:00+00:00",
    interface="eth0",
    medium=Medium.WIRED,
    speed_bps=1_000_000_000,
    bus_bps=480_000_000,
    down_bps=301.5e6,
    up_bps=288.0e6,
    server="bench",
)


def test_what_was_kept_comes_back(tmp_path):
    path = tmp_path / "new" / "laptop.json"
    keep_check(path, CHECK, read_laptop(path))
    found = read_laptop(path)
    assert (found.device_id, found.checks) == ("00ff", (CHECK,))
    assert [one.age_days for one in found.checks_at(NOW)] == [10.0]


def test_a_clock_set_back_makes_no_check_of_the_future():
    (told,) = Laptop(checks=(CHECK,)).checks_at(NOW - timedelta(days=99))
    assert told.age_days == 0.0


def test_the_newest_check_of_an_interface_is_in_force():
    newer = replace(CHECK, down_bps=500e6)
    laptop = Laptop().with_check(CHECK).with_check(newer)
    assert laptop.checks == (newer,)
    for number in range(2 * MOST_CHECKS):
        laptop = laptop.with_check(replace(CHECK, interface=f"eth{number}"))
    assert len(laptop.checks) == MOST_CHECKS


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "{}",
        '{"device_id": 1, "checks": []}',
        '{"device_id": "a", "checks": {}}',
        '{"device_id": "a", "checks": [{"checked": "yesterday"}]}',
        "[" * 70_000,
    ],
)
def test_a_file_that_cannot_be_read_is_said_and_passed_over(tmp_path, text, capsys):
    path = tmp_path / "laptop.json"
    path.write_text(text)
    assert read_laptop(path) == Laptop()
    assert "cannot be read" in capsys.readouterr().err


@given(
    key=st.sampled_from(sorted(("checked", "interface", "medium", "speed_bps", "down_bps"))),
    value=st.one_of(
        st.none(), st.booleans(), st.text(max_size=300), st.floats(), st.lists(st.integers())
    ),
)
def test_no_value_in_the_file_breaks_a_visit(tmp_path_factory, key, value):
    path = tmp_path_factory.mktemp("laptop") / "laptop.json"
    keep_check(path, CHECK, Laptop())
    document = json.loads(path.read_text())
    document["checks"][0][key] = value
    path.write_text(json.dumps(document))
    for one in read_laptop(path).checks_at(NOW):
        assert one.age_days >= 0


def test_a_number_of_a_laptop_is_by_chance():
    assert len({new_device_id() for _ in range(100)}) == 100


def test_only_throughput_has_a_self_check():
    require_throughput("throughput")
    with pytest.raises(UsageError, match="delay"):
        require_throughput("delay")


def test_the_port_is_read_with_it():
    request = object.__new__(VisitRequest)
    for name in VisitRequest.__dataclass_fields__:
        object.__setattr__(request, name, None)
    skipped = {kind: Reason(code="not-asked") for kind in (Kind.LINK, Kind.DNS)}
    object.__setattr__(request, "skips", skipped)
    assert set(with_link(request).skips) == {Kind.DNS}


def test_a_check_holds_what_the_port_was_and_what_each_direction_carried():
    record = healthy()
    check = check_of(record, "00ff", NOW)
    rates = {
        one.measurement.direction: one.statistics.goodput_bps
        for one in record.measured
        if one.measurement.kind is Kind.THROUGHPUT
    }
    assert (check.down_bps, check.up_bps) == (rates[Direction.DOWN], rates[Direction.UP])
    assert (check.checked, check.device_id) == ("2026-03-02T09:00:00+00:00", "00ff")
    port = next(m.measurement.observed for m in record.measured if m.measurement.kind is Kind.LINK)
    assert check.is_of(port)


def test_a_transfer_that_was_cut_short_shows_nothing():
    record = healthy()
    cut = tuple(
        replace(one, measurement=replace(one.measurement, state=State.PARTIAL, reason=CUT))
        if one.measurement.kind is Kind.THROUGHPUT
        else one
        for one in record.measured
    )
    assert check_of(replace(record, measured=cut), "00ff", NOW) is None


def test_a_record_carries_it_and_is_read_again_with_its_age():
    told = replace(CHECK, age_days=10.0)
    record = healthy()
    carried = replace(record, agent=replace(record.agent, device_id="00ff", laptop_check=told))
    assert record_of(document_of(carried), "here").agent == carried.agent


@pytest.mark.loopback
def test_a_self_check_on_the_bench(tmp_path):
    """Against a real server on loopback: kept in the user's folder, and later records carry it."""
    environment = {"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "XDG_DATA_HOME": str(tmp_path)}
    doorstep = [sys.executable, "-m", "agent"]
    serve = [*doorstep, "serve", "--host", "127.0.0.1", "--port", "0", "--reflector-port", "0"]
    with subprocess.Popen(serve, env=environment, cwd=ROOT, stderr=subprocess.PIPE) as server:
        try:
            url = re.search(rb"http://[0-9.:]+", server.stderr.readline())[0].decode()
            common = [f"--server={url}", "--interface=lo", "--json"]
            fill = ["throughput", "--self-check", "--consent"]
            checked = run([*doorstep, "measure", *fill, *common], environment | SHORT)
            assert checked.returncode == 0, checked.stderr
            visit = [*doorstep, "visit", "--no-probe", f"--out={tmp_path}", *LEFT_OUT]
            record = json.loads(run([*visit, *common], environment).stdout)
        finally:
            server.terminate()
    kept = json.loads((tmp_path / "doorstep" / "laptop.json").read_text())
    assert "own check of lo" in checked.stderr
    (check,) = kept["checks"]
    assert check["down_bps"] > 1e6
    assert check["up_bps"] > 1e6
    carried = record["agent"]["laptop_check"]
    assert {name: carried[name] for name in check} == check
    assert 0 <= carried["age_days"] < 1
    assert record["agent"]["device_id"] == kept["device_id"]


SHORT = {
    "DOORSTEP_PLANS__STANDARD__THROUGHPUT__SECONDS": "1.0",
    "DOORSTEP_PLANS__STANDARD__THROUGHPUT__MODE": "fixed",
}
LEFT_OUT = [f"--without={kind.value}" for kind in Kind if kind not in (Kind.LINK, Kind.LEASE)]


def run(argv, environment):
    return subprocess.run(
        argv, env=environment, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60
    )


def test_only_the_check_of_the_port_under_test_is_carried():
    other = replace(CHECK, interface="eth9")
    (fact,) = judge(
        visit(link(interface="eth0", bus_bps=480_000_000), down(50e6)),
        conditions=(calm(),),
        laptop_check=replace(CHECK, down_bps=60e6, up_bps=None),
    ).assessment.fitness
    assert (fact.name, fact.measured) == ("laptop_check", 60e6)
    assert not judge(visit(down(50e6)), laptop_check=other).assessment.fitness
