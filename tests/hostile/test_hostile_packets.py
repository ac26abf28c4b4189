"""Whatever arrives, a parser returns a value or says that the message is malformed."""

import pytest
from mutation import spoiled
from parsers import REFUSALS, parsers

PACKETS = 1_500
SEED = 20_260_302

PARSERS = {parser.name: parser for parser in parsers()}


@pytest.mark.parametrize("parser", PARSERS.values(), ids=PARSERS)
def test_a_spoiled_packet_is_read_or_refused(parser):
    refused = 0
    for packet in spoiled(parser.valid, PACKETS, SEED):
        try:
            parser.parse(packet)
        except REFUSALS:
            refused += 1
    # A parser that refuses all, or looks at nothing, would pass without this.
    assert refused < PACKETS


def test_spoiling_is_the_same_for_the_same_seed():
    valid = PARSERS["ICMP errors"].valid
    assert list(spoiled(valid, 50, 1)) == list(spoiled(valid, 50, 1))
    assert list(spoiled(valid, 50, 1)) != list(spoiled(valid, 50, 2))
