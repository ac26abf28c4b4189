"""The E-model's published points, recalled from memory as the vectors say, and the estimate."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import close, vector

from agent.stats import voice


def test_score_of_a_rating():
    v = vector("emodel-r-to-mos")
    found = [voice.mos_of(r) for r in v["inputs"]["r"]]
    assert found == pytest.approx(v["expected"]["mos"], **close(v))


def test_impairment_by_delay():
    v = vector("emodel-id")
    found = [voice.delay_impairment(d) for d in v["inputs"]["one_way_ms"]]
    assert found == pytest.approx(v["expected"]["id"], **close(v))


def test_impairment_by_loss():
    v = vector("emodel-ie-eff-g711-plc")
    given_ = v["inputs"]
    codec = voice.Codec(name="", impairment=given_["ie"], robustness=given_["bpl"])
    assert codec.robustness == voice.G711_CONCEALED.robustness
    found = [voice.loss_impairment(p, codec) for p in given_["loss_percent"]]
    assert found == pytest.approx(v["expected"]["ie_eff"], **close(v))


def test_both_together():
    v = vector("emodel-combined")
    found = voice.rating(v["inputs"]["one_way_ms"], v["inputs"]["loss_percent"])
    assert found == pytest.approx(v["expected"]["r"], **close(v))
    assert voice.mos_of(found) == pytest.approx(v["expected"]["mos"], **close(v))


def test_burst_ratio_is_against_independent_loss():
    """G.107 §7.5, from memory: independent losses at 20 % have a mean run of 1/(1 - 0.2) = 1.25."""
    assert voice.burst_ratio((1, 1, 1, 2), 0.2) == pytest.approx(1.0)
    assert voice.burst_ratio((4, 6), 0.2) == pytest.approx(4.0)
    assert voice.burst_ratio((), 0.0) == 1.0


def test_estimate_names_what_it_assumes():
    """200 ms one way and 2 % loss give 78.892 (vector emodel-combined): 240/2 + 20 + 60 ms."""
    found = voice.voice_estimate([240.0] * 98, (0.02, 0.01, 0.05), (1, 1))
    assert (found.one_way_ms, found.packet_ms, found.buffer_ms) == (200.0, 20.0, 60.0)
    assert found.r == pytest.approx(78.8919, abs=5e-5)
    assert found.r_low < found.r < found.r_high
    assert found.mos_low < found.mos < found.mos_high


def test_what_comes_after_the_buffer_counts_as_lost():
    answers = [20.0] * 95 + [81.0] * 5
    late = voice.voice_estimate(answers, (0.0, 0.0, 0.0), ())
    assert late.discarded_ratio == 0.05
    # Ie-eff of G.711 with concealment at 5 % is 15.7807 (vector emodel-ie-eff-g711-plc).
    assert late.r == pytest.approx(93.2 - 0.024 * 90 - 15.7807, abs=5e-5)
    edge = voice.voice_estimate([20.0] * 95 + [80.0] * 5, (0.0, 0.0, 0.0), ())
    assert edge.discarded_ratio == 0.0


@pytest.mark.parametrize(("answers", "loss"), [([20.0] * 58, (0.0, 0.0, 0.1)), ([20.0] * 59, None)])
def test_no_estimate_of_too_little(answers, loss):
    assert voice.voice_estimate(answers, loss, ()) is None


@given(st.floats(0, 1000), st.floats(0, 100), st.floats(1, 20), st.floats(0, 50))
def test_more_delay_loss_or_bursts_never_sound_better(delay, loss, burst, more):
    codec = voice.G711_CONCEALED
    plain = voice.rating(delay, loss, codec, burst)
    assert voice.rating(delay + more, loss, codec, burst) <= plain + 1e-9
    assert voice.rating(delay, min(100, loss + more), codec, burst) <= plain + 1e-9
    assert voice.rating(delay, loss, codec, burst + more) <= plain + 1e-9
    assert 1 <= voice.mos_of(plain) <= 4.5
