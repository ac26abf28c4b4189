"""The cells of the confusion matrix, and the drawing of their lines."""

from diagnosis import share
from diagnosis_cells import CATALOGUE, PAIRS, Cell, alone, healthy, line_of, severities

from agent.practice.faults import find_fault

SEEDS = range(1, 13)


def test_a_cell_is_the_same_line_every_time():
    cell = Cell(faults=("lossy-core",), severity="light", seed=5)
    assert line_of(cell) == line_of(cell)


def test_seeds_vary_the_whole_line_and_not_only_its_noise():
    lines = [line_of(cell)[1] for cell in healthy(SEEDS)]
    for member in ("tier", "rtt_ms", "hops", "buffer_ms", "path", "faults", "seed"):
        assert len({str(getattr(line, member)) for line in lines}) > 2


def test_a_fault_that_shows_on_fast_lines_alone_gets_one():
    for fault in CATALOGUE:
        for severity, effect in fault.effects.items():
            cell = Cell(faults=(fault.name,), severity=severity.value, seed=1)
            assert line_of(cell)[0].down_bps >= (effect.least_down_bps or 0)


def test_every_severity_that_differs_is_played_once():
    assert severities("dead-dns") == ["medium"]
    assert severities("lossy-core") == ["light", "medium", "severe"]
    cells = alone(["lossy-core", "dead-dns"], SEEDS)
    assert len(cells) == len({cell.name for cell in cells}) == 4 * len(SEEDS)


def test_pairs_are_of_faults_that_exist():
    for worse, other in PAIRS:
        assert find_fault(worse).findings
        assert find_fault(other).findings


def test_a_share_is_printed_with_its_interval():
    """9 of 10: Wilson's 95 % interval is 0.596 to 0.982 (Newcombe 1998, from memory)."""
    assert share(9, 10) == "9 of 10 (90.0 %, 60 to 98)"
    assert share(0, 0) == "0 of 0"
