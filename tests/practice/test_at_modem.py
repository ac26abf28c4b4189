"""The home without a router: whose addresses it has, and which faults can be played in it."""

import ast
from ipaddress import ip_address, ip_network
from pathlib import Path

import pytest

import agent.practice
from agent.errors import UsageError
from agent.practice import faults_modem
from agent.practice.addresses import TranslatorAddresses, plan_addresses
from agent.practice.fault import Effect
from agent.practice.faults import CATALOGUE, as_struck
from agent.practice.homes import AT_MODEM, HOMES
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.needs import AT_ROUTER, require_home
from agent.practice.path import PathSpec
from agent.practice.topology import giver_of_addresses, home_routers

ROUTER_WORDS = {"router", "home_routers", "OUTER_ROUTER"}


def at_modem(*faults, **line):
    chosen = tuple(FaultChoice.parse(name) for name in faults)
    return LineSpec(home=AT_MODEM, faults=chosen, **line)


def own_names(function):
    """Return every name and text in a function."""
    for node in ast.walk(function):
        if isinstance(node, ast.Name):
            yield node.id
        elif isinstance(node, ast.Constant):
            yield node.value


def strikes_on_the_router():
    """Return the strikes whose source names the router, themselves or through what they call."""
    found = set()
    for path in Path(agent.practice.__file__).parent.glob("strikes*.py"):
        tree = ast.parse(path.read_text())
        named = {f.name: set(own_names(f)) for f in tree.body if isinstance(f, ast.FunctionDef)}
        hit = {name for name, names in named.items() if names & ROUTER_WORDS}
        while more := {n for n, names in named.items() if names & hit} - hit:
            hit |= more
        found |= hit
    return found


def test_the_laptop_has_one_of_the_operators_addresses():
    """Its gateway is the operator's edge; nobody else on the network has what it may be given."""
    for seed in range(200):
        plan, usual = plan_addresses(seed, 2, routers=0), plan_addresses(seed, 2)
        first, last = ip_address(plan.pool_first), ip_address(plan.pool_last)
        wan = ip_network(usual.wan_prefix)
        assert first <= ip_address(plan.laptop) <= last
        assert {first, last, ip_address(plan.router)} <= set(wan.hosts())
        taken = {plan.edge, TranslatorAddresses().gateway, *TranslatorAddresses().pool}
        assert not any(first <= ip_address(one) <= last for one in taken)
        assert plan.router == usual.edge
        assert (plan.server, plan.sites, plan.core) == (usual.server, usual.sites, usual.core)


def test_the_edge_gives_the_address_where_no_router_is():
    assert home_routers(at_modem()) == ()
    assert giver_of_addresses(at_modem())[0] == "edge"
    assert giver_of_addresses(LineSpec())[0] == "router"


def test_a_line_with_ipv6_is_not_played_at_the_modem():
    with pytest.raises(UsageError, match="IPv4"):
        as_struck(at_modem(ipv6=True))


def test_the_way_from_the_modem_is_shorter_by_a_router():
    last = PathSpec(silent=(3,))
    assert as_struck(LineSpec(hops=1, path=last)).path == last
    with pytest.raises(UsageError, match="ends before"):
        as_struck(at_modem(hops=1, path=last))


@pytest.mark.parametrize("fault", faults_modem.FAULTS)
def test_a_fault_at_the_modem_brings_its_home(fault):
    assert as_struck(LineSpec(faults=(FaultChoice(name=fault.name),))).home == AT_MODEM
    assert {effect.home for effect in fault.effects.values()} == {AT_MODEM}


def test_a_fault_of_the_homes_router_is_refused_and_no_other():
    on_router = strikes_on_the_router()
    for fault in CATALOGUE:
        for effect in fault.effects.values():
            chosen = ((fault, effect),)
            if effect.home not in (None, AT_MODEM):
                require_home(effect.home, chosen)
            elif fault.segment == "home" or {effect.prepare, effect.strike} & on_router:
                with pytest.raises(UsageError, match=f"{fault.name} needs a router"):
                    require_home(AT_MODEM, chosen)
            else:
                require_home(AT_MODEM, chosen)


def test_a_line_with_such_a_fault_is_refused_before_anything_is_built():
    with pytest.raises(UsageError, match="gateway-dead"):
        as_struck(at_modem("gateway-dead"))


def test_what_is_said_to_act_on_the_router_does():
    assert strikes_on_the_router() >= AT_ROUTER


@pytest.mark.parametrize(
    "names", [("ipv4-gone", "modem-bound"), ("modem-bound", "port-blocked-second-router")]
)
def test_faults_of_different_homes_are_refused_together(names):
    wanted = {effect_of_medium(name).home for name in names}
    assert len(wanted) == len(names)
    with pytest.raises(UsageError, match="one after the other"):
        as_struck(LineSpec(faults=tuple(FaultChoice(name=name) for name in names)))


def effect_of_medium(name) -> Effect:
    return next(fault for fault in CATALOGUE if fault.name == name).effects["medium"]


def test_only_one_home_has_no_router():
    assert [name for name, home in HOMES.items() if not home.routers] == [AT_MODEM]
