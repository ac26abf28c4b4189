"""Laws of the rule table: what a finding needs and what rules it out is in force, as data."""

from dataclasses import replace

import pytest
from drawn import drawn
from hypothesis import given
from hypothesis import strategies as st

from agent.assessment.evidence import Evidence
from agent.diagnosis.diagnose import diagnose
from agent.diagnosis.exclusions import Exclusion
from agent.diagnosis.needs import Measured, Noted, Refused, Told, any_of, met
from agent.diagnosis.table import RULES, rivals

pytestmark = pytest.mark.timeout(300)

RULE = {rule.code: rule for rule in RULES}
UNTOLD = {
    Told.TAG: {"tag": None},
    Told.POOLS: {"pools": ()},
    Told.DHCP_SERVERS: {"dhcp_servers": ()},
    Told.DELEGATED_BITS: {"delegated_bits": None},
    Told.SEEN_ADDRESS: {"seen": None},
}


@pytest.fixture(scope="module", autouse=True)
def _drawn_before_hypothesis_draws():
    drawn()


def kept(facts, keep):
    items = tuple(item for item in facts.evidence.items if keep(item.measurement))
    return replace(facts, evidence=Evidence(items))


def without(facts, source):
    """The same visit, had this never been measured, read or told."""
    match source:
        case Measured(kind=kind, role=role):
            return kept(facts, lambda m: kind not in {None, m.kind} or role not in {None, m.role})
        case Refused(reason=code):
            return kept(facts, lambda m: m.reason is None or m.reason.code != code)
        case Noted(fact=name):
            fitness = tuple(f for f in facts.assessment.fitness if f.name != name)
            return replace(facts, assessment=replace(facts.assessment, fitness=fitness))
        case Told.CARD_FAULT:
            return replace(facts, circumstances=replace(facts.circumstances, card_fault=None))
        case Told.PROFILES | Told.CONDITIONS:
            return replace(facts, **{source.value: ()})
        case Told():
            return replace(facts, around=replace(facts.around, **UNTOLD[source]))


def codes(facts):
    return [finding.code for finding in diagnose(facts).findings]


def test_every_rule_needs_something_and_codes_are_its_own():
    assert all(rule.needs and all(rule.needs) for rule in RULES)
    assert len(RULE) == len(RULES)


def test_every_rule_is_reached_by_a_case_of_this_room():
    reached = {code for facts in drawn() for code in codes(facts)}
    assert reached == set(RULE)


def test_no_rule_is_said_without_what_it_needs():
    tried = set()
    for facts in drawn():
        for code in codes(facts):
            for need in RULE[code].needs:
                bare = facts
                for source in need:
                    bare = without(bare, source)
                assert not met(need, bare), (code, need)
                assert code not in codes(bare), (code, need)
                tried.add(code)
    assert tried == set(RULE)


def test_every_exclusion_is_used_and_holds_somewhere_where_it_is_obeyed():
    used = {fact for rule in RULES for fact in rule.ruled_out_by}
    assert used == set(Exclusion)
    seen = set()
    for facts in drawn():
        holding = {fact for fact in Exclusion if fact.holds(facts)}
        seen |= holding
        for code in codes(facts):
            assert not holding & RULE[code].ruled_out_by, code
    assert seen == used


def test_what_a_rule_hides_is_known_and_comes_after_it():
    place = {rule.code: at for at, rule in enumerate(RULES)}
    for rule in RULES:
        assert rule.hides <= set(place), rule.code
        assert all(place[code] > place[rule.code] for code in rule.hides), rule.code


def test_rivals_are_what_hides_says_the_other_way_round():
    for rule in RULES:
        assert all(rule.code in rivals(code) for code in rule.hides)
        assert all(rule.code in RULE[other].hides for other in rivals(rule.code))


@given(st.data())
def test_whatever_is_missing_of_a_visit_no_finding_breaks_the_table(data):
    facts = data.draw(st.sampled_from(drawn()))
    lost = data.draw(st.sets(st.integers(0, len(facts.evidence.items))))
    numbered = enumerate(facts.evidence.items)
    some = replace(facts, evidence=Evidence(tuple(item for at, item in numbered if at not in lost)))
    found = set(codes(some))
    for code in found:
        assert all(met(need, some) for need in RULE[code].needs), code
        assert not any(fact.holds(some) for fact in RULE[code].ruled_out_by), code
        assert not rivals(code) & found, code


def test_a_need_is_met_by_any_of_its_sources():
    facts = drawn()[0]
    never = Noted("never-noted")
    assert not met(any_of(never), facts)
    assert met(any_of(never, Measured()), facts)
