"""Which address of the operator's server a visit takes, by the family it is asked for."""

from types import SimpleNamespace

import pytest

from agent.errors import NameNotResolved
from agent.session.far_server import FarServer
from agent.settings.model import Server

NAME = "test.ternbay.example"
KNOWN = {4: "198.51.100.20", 6: "2001:db8::20"}


class Names:
    """A resolver that knows addresses of some families."""

    def __init__(self, *families):
        self.families = families

    def resolve(self, name, family, within_s):
        if family not in self.families:
            raise NameNotResolved(name=name, problem=f"no IPv{family} address")
        return (KNOWN[family],)


def met(asked, *known):
    """Return the server as a visit met it that has no card to read."""
    server = Server(download=f"http://{NAME}/big")
    request = SimpleNamespace(
        server_url=None, family=asked, settings=SimpleNamespace(server=server)
    )
    far = FarServer(request, conductor=None)
    far.meet(SimpleNamespace(names=Names(*known)))
    return far


@pytest.mark.parametrize(
    ("asked", "known", "taken"),
    [
        ("4", (4, 6), 4),
        ("6", (4, 6), 6),
        ("both", (4, 6), 4),
        ("both", (6,), 6),
    ],
)
def test_the_family_asked_for_decides_the_address(asked, known, taken):
    far = met(asked, *known)
    assert (far.address, far.error) == (KNOWN[taken], None)


@pytest.mark.parametrize(("asked", "known"), [("4", (6,)), ("6", (4,)), ("both", ())])
def test_no_address_of_the_family_is_a_reason_that_names_it(asked, known):
    far = met(asked, *known)
    assert far.address is None
    assert f"IPv{6 if asked == '6' else 4}" in str(far.error)
