"""Names of the hops: looked up while the visit goes on, put into the walk at its end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from agent.measurements import HopWalk, Measurement
from agent.probes.hop_names import NameSearch
from agent.session.site import Site

WITHIN_S = 0.8
"""All names together, from the end of the walk: a walk measured alone waits no longer for them."""


def search_names(site: Site, walk: HopWalk) -> NameSearch:
    """Begin to look up the names of all that answered a walk."""
    answered = (*walk.answered_by, *(address for address, _ in walk.unplaced))
    return NameSearch(
        site.names,
        site.ground.resolvers,
        [address for address in answered if address is not None],
        timeline=site.timeline,
        within_s=WITHIN_S,
        running=site.running,
    )


def named(measurements: Sequence[Measurement], search: NameSearch | None) -> list[Measurement]:
    """Return the measurements, walks with the names that were found."""
    if search is None:
        return list(measurements)
    names = search.found()
    return [_with(one, names) for one in measurements]


def _with(one: Measurement, names: tuple[tuple[str, str], ...]) -> Measurement:
    if not isinstance(one.observed, HopWalk):
        return one
    met = {*one.observed.answered_by, *(address for address, _ in one.observed.unplaced)}
    own = tuple((address, name) for address, name in names if address in met)
    return replace(one, observed=replace(one.observed, names=own))
