"""Receipts: what the connections of a run received, in tenths of a second from its first byte."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.card import MAX_SLICES, parse_receipt
from agent.codec.document import write_document
from agent.server.receipts import KEPT_S, MAX_RUNS, MAX_RUNS_OF_A_CLIENT, ReceiptBook

RUN = "0123456789abcdef"


def upload(book, run_id, arrivals, complete=True):
    """Play one connection: (seconds, bytes) in order."""
    flow = book.open(run_id, "a", arrivals[0][0])
    book.first_byte(flow, arrivals[0][0])
    for now_s, count in arrivals:
        flow.add(count, now_s)
    flow.complete = complete
    return flow


def test_bytes_stand_in_the_tenth_of_a_second_in_which_they_came():
    book = ReceiptBook()
    flow = upload(book, RUN, [(100.0, 10), (100.05, 5), (100.25, 7)])
    receipt = flow.receipt()
    assert receipt.slices_100ms == (15, 0, 7)
    assert (receipt.bytes, receipt.complete) == (22, True)
    assert receipt.seconds == pytest.approx(0.25)


def test_the_flows_of_a_run_share_one_time_scale():
    book = ReceiptBook()
    first = upload(book, RUN, [(100.0, 10), (100.125, 10)])
    second = upload(book, RUN, [(100.15, 3), (100.31, 4)])
    running = book.receipt(RUN, 101.0)
    assert running.complete is False
    assert running.slices_100ms == (10, 13, 0, 4)
    book.close(first, 101.0)
    book.close(second, 101.0)
    done = book.receipt(RUN, 101.0)
    assert (done.slices_100ms, done.complete, done.flows) == ((10, 13, 0, 4), True, 2)
    assert done.seconds == pytest.approx(0.31)


def test_one_flow_cut_short_makes_the_run_incomplete():
    book = ReceiptBook()
    for complete in (True, False, True):
        book.close(upload(book, RUN, [(1.0, 1)], complete), 2.0)
    assert book.receipt(RUN, 2.0).complete is False


def test_a_connection_without_a_byte_is_counted_as_nothing():
    book = ReceiptBook()
    book.close(book.open(RUN, "a", 0.0), 1.0)
    receipt = book.receipt(RUN, 1.0)
    assert (receipt.bytes, receipt.seconds, receipt.slices_100ms) == (0, 0.0, ())
    assert receipt.complete is False


def test_an_upload_longer_than_the_column_keeps_every_byte():
    book = ReceiptBook()
    flow = upload(book, RUN, [(0.0, 1), (MAX_SLICES * 0.1 + 500.0, 2)])
    assert len(flow.receipt().slices_100ms) == MAX_SLICES
    assert flow.receipt().bytes == 3


def test_a_run_is_forgotten_after_its_time_but_never_while_it_runs():
    book = ReceiptBook()
    flow = upload(book, RUN, [(0.0, 1)])
    assert book.receipt(RUN, 10 * KEPT_S) is not None
    book.close(flow, 10 * KEPT_S)
    assert book.receipt(RUN, 11 * KEPT_S) is not None
    assert book.receipt(RUN, 11 * KEPT_S + 1.0) is None


def test_runs_are_bounded_and_one_client_only_pushes_out_its_own():
    book = ReceiptBook()
    book.close(book.open("other", "b", 0.0), 0.0)
    for number in range(MAX_RUNS_OF_A_CLIENT + 50):
        book.close(book.open(f"run{number}", "a", 1.0), 1.0)
    assert book.receipt("other", 1.0) is not None
    assert len(book._runs) == MAX_RUNS_OF_A_CLIENT + 1
    for number in range(MAX_RUNS + 50):
        book.close(book.open(f"run{number}", f"c{number}", 1.0), 1.0)
    assert len(book._runs) == MAX_RUNS


FLOW = st.lists(st.tuples(st.floats(0, 20), st.integers(1, 10**6)), min_size=1, max_size=12)


@given(st.lists(FLOW, min_size=1, max_size=5), st.booleans())
def test_the_run_is_the_sum_of_its_flows_and_reads_back(flows, closed):
    book = ReceiptBook()
    flows.sort(key=lambda flow: min(at for at, _ in flow))
    opened = [upload(book, RUN, sorted(flow)) for flow in flows]
    if closed:
        for flow in opened:
            book.close(flow, 30.0)
    receipt = book.receipt(RUN, 30.0)
    assert receipt.bytes == sum(count for flow in flows for _, count in flow)
    times = [at for flow in flows for at, _ in flow]
    assert receipt.seconds == pytest.approx(max(times) - min(times))
    assert parse_receipt(write_document(receipt.to_document())) == receipt
