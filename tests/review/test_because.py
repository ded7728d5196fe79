"""The coach's reasons in the page's words: what the core says of a rider who is off, in both languages."""

from __future__ import annotations

import pytest

from cadence_coach.core.looks import Looks
from cadence_coach.review.because import because
from cadence_coach.review.say import say, signed, tell
from cadence_coach.review.words import Words
from tests.core.test_looks import pump, see


@pytest.mark.parametrize(
    ("pumps", "kind", "en", "de"),
    [
        ([pump(1.0)] * 12, "quicker", "60 a minute, under 72", "60 pro Minute, unter 72"),
        ([pump(0.5)] * 12, "slower_bigger", "120 a minute, over 96", "120 pro Minute, über 96"),
        (
            [pump(1 / 1.4, size=0.3)] * 12,
            "bigger",
            "size 30 % of weight, needed 60 %",
            "Größe 30 % des Gewichts, nötig 60 %",
        ),
    ],
)
def test_a_correction_is_told_in_the_pages_words(pumps, kind, en, de):  # type: ignore[no-untyped-def]
    reason = next(f.reason for found in see(Looks(), pumps) for f in found if f.kind == kind)
    assert (because(reason, Words("en")), because(reason, Words("de"))) == (en, de)


def test_what_has_no_form_stays_as_it_was():
    assert because("three slaps", Words("de")) == "three slaps"
    assert because("153 m from the start, limit 150 m", Words("de")) == "153 m vom Start, Grenze 150 m"


@pytest.mark.parametrize(
    ("text", "set_in_print"),
    [("-3", "−3"), ("-0", "0"), ("+0.0", "0.0"), ("-0,00", "0,00"), ("+2", "+2"), ("-0.4", "−0.4"), ("0", "0")],
)
def test_a_minus_is_a_minus_and_nothing_has_no_sign(text, set_in_print):
    assert signed(text) == set_in_print


@pytest.mark.parametrize(("n", "en", "de"), [(1, "1 outing", "1 Ausfahrt"), (2, "2 outings", "2 Ausfahrten")])
def test_one_and_many(n, en, de):
    assert (tell(say("season_outings", n=n)), tell(say("season_outings", n=n), "de")) == (en, de)
