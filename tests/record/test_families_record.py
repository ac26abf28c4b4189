"""What was seen of both families comes back from a record as it was, beside other pages."""

from dataclasses import replace

import pytest
from families import look, silent, swallowed, tried
from records import healthy

from agent.measurements import FamilyLook, HopWalk, Kind, Measurement, Role, State
from agent.record.model import Measured
from agent.record.seal import seal
from agent.record.store import read_record, write_record
from agent.record.typed import measurement_document, measurement_of
from agent.stats.families import family_statistics

WALK = HopWalk(target="2001:db8::80", protocol="udp", waiting_s=1.0)
LOOKS = {
    "sound": look(tried("one", 6), tried("two", 6), translation_prefix="64:ff9b::/96"),
    "absent": FamilyLook(held=(4,), routed=(4,), request_bytes=2_000),
    "dead": look(silent("one", 6), silent("two", 6), walk=WALK),
    "large lost": look(swallowed("one", 6)),
}


def seen(what):
    return Measurement(
        kind=Kind.HTTP,
        role=Role.OUTSIDE,
        state=State.COMPLETE,
        method="families",
        started_s=0.1,
        duration_s=0.2,
        id="m90",
        observed=what,
    )


@pytest.mark.parametrize("what", LOOKS.values(), ids=LOOKS)
def test_a_look_is_read_again_as_itself(what):
    assert measurement_of(measurement_document(seen(what))) == seen(what)


@pytest.mark.parametrize("what", LOOKS.values(), ids=LOOKS)
def test_a_record_keeps_it_with_its_statistics(what, tmp_path):
    one = Measured(measurement=seen(what), statistics=family_statistics(what))
    record = replace(healthy(), measured=(*healthy().measured, one))
    assert read_record(write_record(seal(record), tmp_path)).record == record
