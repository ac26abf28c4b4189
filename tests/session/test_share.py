"""How a data cap is divided."""

from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import Direction
from agent.session.share import byte_cap
from agent.settings.model import ThroughputPlan, Tier

PLAN = ThroughputPlan()
TIER = Tier(name="Tern Bay 100/20", down_bps=100_000_000, up_bps=20_000_000)


def test_without_a_cap_the_plans_own_holds():
    assert byte_cap(PLAN, TIER, Direction.DOWN, None, 10) == PLAN.max_bytes


def test_down_leaves_to_up_its_share_of_the_tier():
    down = byte_cap(PLAN, TIER, Direction.DOWN, 120_000_000, 0)
    assert down == 100_000_000
    assert byte_cap(PLAN, TIER, Direction.UP, 120_000_000, down) == 20_000_000


@given(
    cap=st.integers(0, 10**10),
    used=st.integers(0, 10**10),
    direction=st.sampled_from([Direction.DOWN, Direction.UP]),
    tier=st.sampled_from([None, TIER]),
)
def test_a_direction_never_gets_more_than_is_left(cap, used, direction, tier):
    given_bytes = byte_cap(PLAN, tier, direction, cap, used)
    assert 0 <= given_bytes <= max(0, cap - used)
