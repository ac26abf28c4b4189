import time

from agent.engines.kernel_stamps import StampClockMap, read_offset

S = 10**9
NOW = time.monotonic_ns()


class Offsets:
    def __init__(self, *offsets):
        self.offsets = list(offsets)

    def __call__(self):
        return (self.offsets.pop(0) if len(self.offsets) > 1 else self.offsets[0]), 1_000


def test_a_stamp_is_turned_by_the_difference_of_the_clocks():
    clocks = StampClockMap(Offsets(1_000 * S))
    clocks.look()
    stamp = NOW + 1_000 * S - 5
    assert clocks.monotonic_ns(stamp, since_ns=NOW - S, until_ns=NOW) == NOW - 5
    assert clocks.steps == 0


def test_reading_noise_is_no_step_and_a_jump_is():
    clocks = StampClockMap(Offsets(1_000 * S, 1_000 * S + 40_000, 1_000 * S + 300_000_000))
    clocks.look()
    assert clocks.steps == 0
    clocks.look()
    clocks.look()
    assert clocks.steps == 1


def test_stamps_around_a_step_are_turned_by_the_offset_that_fits():
    old, new = 1_000 * S, 1_007 * S
    clocks = StampClockMap(Offsets(old, new))
    clocks.look()
    window = {"since_ns": NOW - S // 100, "until_ns": NOW}
    assert clocks.monotonic_ns(NOW - 10 + old, **window) == NOW - 10
    assert clocks.monotonic_ns(NOW - 10 + new, **window) == NOW - 10


def test_a_stamp_that_both_offsets_would_fit_is_not_used():
    old, new = 1_000 * S, 1_000 * S + 1_000_000
    clocks = StampClockMap(Offsets(old, new))
    clocks.look()
    stamp = NOW - 2_000_000 + old
    assert clocks.monotonic_ns(stamp, since_ns=NOW - S // 100, until_ns=NOW) is None


def test_a_stamp_from_nowhere_is_not_used():
    clocks = StampClockMap(Offsets(0))
    for stamp in (NOW + S, NOW - 5 * S):
        assert clocks.monotonic_ns(stamp, since_ns=NOW, until_ns=NOW) is None


def test_the_difference_of_the_clocks_is_read_sharply():
    offset, blur = read_offset()
    real = time.clock_gettime_ns(time.CLOCK_REALTIME) - time.clock_gettime_ns(time.CLOCK_MONOTONIC)
    assert abs(offset - real) < S
    assert 0 <= blur < S
