"""A loss is told with its direction where the server knew it."""

import pytest

from agent.diagnosis.loss import CONFIDENCE
from agent.sheet.en.findings import FINDING, LOSS_WAY
from agent.sheet.wording import finding_sentence


@pytest.mark.parametrize("code", CONFIDENCE)
@pytest.mark.parametrize("direction", LOSS_WAY)
def test_a_loss_is_told_with_its_direction(code, direction):
    values = {"lost": 4, "sent": 200, "direction": direction}
    plain = finding_sentence(code, {"lost": 4, "sent": 200})
    told = finding_sentence(code, values)
    assert plain.endswith(".")
    assert told == f"{plain.removesuffix('.')}, {LOSS_WAY[direction]}."


def test_no_other_finding_and_no_odd_value_gets_a_direction():
    assert finding_sentence("half-duplex", {"direction": "up"}) == FINDING["half-duplex"]
    odd = finding_sentence("loss-past-modem", {"direction": "<sideways>"})
    assert odd == FINDING["loss-past-modem"]
