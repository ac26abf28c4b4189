"""Searching the catalogue of tiers by words, as a technician types them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.errors import UsageError
from agent.settings.catalogue import found_tiers
from agent.settings.loader import load
from agent.settings.model import Access, Layer, Tier

M = 1_000_000


def tier(name, down, up, **more):
    return Tier(name=name, down_bps=down * M, up_bps=up * M, **more)


TIERS = (
    tier("Tern Bay 10/2", 10, 2, access=Access.DSL),
    tier("Tern Bay 100/20", 100, 20, access=Access.CABLE),
    tier("Tern Bay 1000/100", 1000, 100, access=Access.FIBRE, layer=Layer.DOCSIS_FRAME),
    tier("Tern Bay Äther 60/10", 60, 10, access=Access.WIRELESS),
    tier("Harbour Cable", 300, 100, access=Access.FIBRE),
)


def names(*words):
    return [one.name for one in found_tiers(TIERS, words)]


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ((), [one.name for one in TIERS]),
        (("100/20",), ["Tern Bay 100/20"]),
        (("TERN-BAY", "100_20"), ["Tern Bay 100/20"]),
        (("aether",), None),
        (("ather",), ["Tern Bay Äther 60/10"]),
        (("ÄTHER",), ["Tern Bay Äther 60/10"]),
        (("10",), ["Tern Bay 10/2", "Tern Bay Äther 60/10"]),
        (("100",), ["Tern Bay 100/20", "Tern Bay 1000/100"]),
        (("100M",), ["Tern Bay 100/20", "Tern Bay 1000/100", "Harbour Cable"]),
        (("100m", "20M"), ["Tern Bay 100/20"]),
        (("1G",), ["Tern Bay 1000/100"]),
        (("0.3G",), ["Harbour Cable"]),
        (("100 Mbit/s", "cable"), ["Tern Bay 100/20", "Harbour Cable"]),
        (("FIBRE",), ["Tern Bay 1000/100", "Harbour Cable"]),
        (("cable",), ["Tern Bay 100/20", "Harbour Cable"]),
        (("docsis frame",), ["Tern Bay 1000/100"]),
        (("fibre", "dsl"), None),
        (("1.5M",), None),
        (("7",), None),
    ],
)
def test_a_tier_is_found_by_what_all_words_fit(words, found):
    if found is None:
        with pytest.raises(UsageError, match="No tier fits"):
            names(*words)
    else:
        assert names(*words) == found


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("harbor",), "Nearest: Harbour Cable."),
        (("tern bay 100/30",), "Nearest: Tern Bay 100/20"),
        (("zzz",), "There are 5; doorstep settings tiers lists them all."),
        (("//",), "'//' is nothing to look for."),
        (("cable", ""), "'' is nothing to look for."),
    ],
)
def test_what_fits_nothing_is_one_error_with_the_nearest_names(words, said):
    with pytest.raises(UsageError) as caught:
        names(*words)
    assert said in caught.value.sentence()
    assert "\n" not in caught.value.sentence()


def test_without_tiers_the_error_says_how_to_bring_some():
    with pytest.raises(UsageError, match="Add one to a file"):
        found_tiers((), ())


@given(st.lists(st.text(max_size=8), max_size=3))
def test_any_words_give_some_of_the_tiers_in_their_order_or_one_error(words):
    try:
        found = found_tiers(TIERS, words)
    except UsageError:
        return
    assert list(found) == [one for one in TIERS if one in found]


@given(st.sampled_from(TIERS))
def test_every_tier_is_found_by_its_own_name(one):
    assert one in found_tiers(TIERS, [one.name])
    assert one in found_tiers(TIERS, one.name.upper().replace("/", "-").split())


def test_the_shipped_catalogue_is_searched():
    shipped = load(None, {}, {}).settings.tiers
    assert [one.name for one in found_tiers(shipped, ("air",))] == ["Tern Bay Air 60/10"]
