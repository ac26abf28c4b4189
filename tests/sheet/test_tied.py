"""Lines of the terminal: a number and its unit are never parted."""

import io
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import healthy, link
from rich.cells import cell_len

from agent.record.seal import seal
from agent.sheet.numbers import TIE, port_speed
from agent.sheet.terminal import console_for, print_sheet
from agent.sheet.tied import Tied
from agent.sheet.view import build_sheet

CONSOLE = console_for(io.StringIO(), 80)


def lines(text, width):
    return [line.plain for line in Tied(text).wrap(CONSOLE, width)]


def test_a_tie_holds_where_a_space_breaks():
    assert lines(f"wired, 10000{TIE}Mbit/s", 13) == ["wired,", f"10000{TIE}Mbit/s"]
    assert lines("wired, 10000 Mbit/s", 13) == ["wired, 10000", "Mbit/s"]


def test_a_tied_word_that_is_too_long_is_broken_all_the_same():
    assert all(len(line) <= 4 for line in lines(f"1000{TIE}Mbit/s", 4))


@given(st.text("ab \xa0", max_size=60), st.integers(4, 40))
def test_nothing_is_lost_and_no_line_is_too_long(text, width):
    found = lines(text, width)
    assert "".join("".join(found).split()) == "".join(text.split())
    assert all(cell_len(line.rstrip()) <= width for line in found)


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("speed_bps", [100_000_000, 2_500_000_000, 10_000_000_000])
def test_every_value_of_the_page_keeps_its_unit(width, speed_bps):
    record = healthy()
    out = io.StringIO()
    fast = replace(record, measured=(link(speed_bps), *record.measured[1:]))
    print_sheet(build_sheet(seal(fast)), console_for(out, width))
    assert port_speed(speed_bps) in out.getvalue()
    # Every tie that was printed stands between two letters of the same line.
    for line in out.getvalue().splitlines():
        for at, letter in enumerate(line):
            if letter == TIE:
                assert line[at - 1 : at].strip()
                assert line[at + 1 : at + 2].strip()
