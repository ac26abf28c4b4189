"""Facts that a practice network tells its visit, since no kernel can play them."""

import json

import pytest

from agent.errors import UsageError
from agent.measurements import LinkFacts, Medium
from agent.ports.facts import Interface, ScriptedFacts
from agent.ports.injected import LINK_FACTS, LOAD_FACTS, with_told
from agent.practice.faults import CATALOGUE, told_facts
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.runner import told_environment
from agent.settings.outside import PRACTICE_FACTS, from_environment

REAL = ScriptedFacts(
    ports=(Interface(link=LinkFacts(interface="eth0", up=True, medium=Medium.WIRED)),)
)


def test_without_any_the_facts_are_the_systems_own():
    assert with_told(REAL, None) is REAL
    assert told_environment(LineSpec(), "eth0") == {}


@pytest.mark.parametrize("text", ["{", "[]", "{}", '{"eth0": 7}', '{"a": {}, "b": {}}', "null"])
def test_what_is_no_such_text_is_refused(text):
    with pytest.raises(UsageError):
        with_told(REAL, text)


def test_an_unknown_fact_is_refused():
    with pytest.raises(UsageError, match="colour"):
        with_told(REAL, '{"eth0": {"colour": "red"}}')


def test_what_a_fault_tells_reaches_the_visit_and_is_marked():
    spec = LineSpec(faults=(FaultChoice.parse("laptop-wireless"), FaultChoice.parse("slow-bus")))
    told = told_environment(spec, "eth0")[PRACTICE_FACTS]
    (port,) = with_told(REAL, told).interfaces()
    assert (port.link.medium, port.link.bus_bps) == (Medium.WIRELESS, 12_000_000)
    assert set(port.link.injected) == {"medium", "bus_bps", "speed_bps"}


def test_faults_tell_only_what_can_be_told():
    known = {*LINK_FACTS, *LOAD_FACTS}
    told = [effect.tells for fault in CATALOGUE for effect in fault.effects.values()]
    assert any(told)
    assert all(set(tells) <= known for tells in told)
    assert told_facts(LineSpec()) == {}


def test_the_variable_is_no_setting():
    layer, faults = from_environment({PRACTICE_FACTS: json.dumps({"eth0": {}})}, {})
    assert not faults
    assert not layer
