from agent.schedules.far import FarReport, far_arrivals, far_copies, received_by_report


def test_an_incomplete_log_proves_no_loss():
    report = FarReport(received=5, order=((0, 2),))
    known, order = received_by_report(report, [True, False, False])
    assert known == (True, True, None)
    assert order == (0, 1)


def test_what_was_answered_was_received_whatever_the_log_says():
    known, _ = received_by_report(FarReport(received=0, order=()), [True, False])
    assert known == (True, False)


def test_a_hostile_log_is_bounded():
    report = FarReport(received=1, order=((-5, 10**12), (0, 10**12), (2**40, 7)) * 50)
    assert far_arrivals(report, 5) == (0, 1, 2, 3, 4)


def test_copies_are_counted_where_the_log_is_whole():
    # RFC 5560 §5.3, fourth example, counted from zero: {0 x3, 1, 2 x3, 3}.
    report = FarReport(received=8, order=((0, 1), (0, 2), (0, 1), (2, 1), (2, 1), (2, 2)))
    assert far_copies(report, 5) == (3, 1, 3, 1, 0)
    assert far_copies(FarReport(received=9, order=report.order), 5) is None


def test_a_hostile_log_of_copies_is_bounded():
    report = FarReport(received=10**9, order=((0, 1),) * 1_000 + ((1, 10**9 - 1_000),))
    assert far_copies(report, 2) == (16, 0)
