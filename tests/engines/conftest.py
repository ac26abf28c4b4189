"""Servers on loopback for the engines' tests."""

from contextlib import ExitStack

import pytest
import trustme
from loopback_servers import Scripted


@pytest.fixture
def scripted():
    """Return a function that starts a scripted server, ended with the test."""
    with ExitStack() as kept:

        def begin(handle, **chosen):
            server = Scripted(handle, **chosen)
            kept.callback(server.close)
            return server

        yield begin


@pytest.fixture(scope="session")
def authority():
    """Return a certificate authority of this run."""
    return trustme.CA()
