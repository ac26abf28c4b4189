"""The practice network as a whole: what a laptop behind its router finds."""

import pytest

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab")]


def test_laptop_reaches_a_web_site_by_name_and_sees_its_own_marker():
    with PracticeNetwork(LineSpec(seed=3)) as network:
        site = network.addresses.sites[1]
        page = network.laptop.run(["curl", "-s", f"http://{site.name}/"], timeout=20, plain=True)
    assert site.marker in page.stdout
