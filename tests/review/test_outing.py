"""Figures of a whole outing: starts, sets, rests, legs, cues, odd outings."""

from __future__ import annotations

import re

import numpy as np
import pytest

from cadence_coach.core.guard import Guard
from cadence_coach.core.settings import Settings
from cadence_coach.review.advice import one_thing
from cadence_coach.review.figures import look
from cadence_coach.review.ladder import score
from cadence_coach.review.report import report_html
from cadence_coach.review.terminal import lines
from cadence_coach.review.words import Words
from tests.review.build import Fly, Plan, make, steady, table


def flies(counts, pause=60.0, **changes):
    tries, t = [], 30.0
    for i, n in enumerate(counts):
        tries.append(Fly(t, steady(100.0, n, seed=i), **changes))
        t += sum(tries[-1].periods) + pause
    return tries


def test_starts_are_counted_by_kind():
    tries = [
        Fly(20.0 + 40.0 * i, steady(100.0, n), started_by=kind, landing_to_push=gap)
        for i, (n, kind, gap) in enumerate(
            [(0, "run_up", None), (2, "run_up", 0.9), (4, "run_up", 0.5), (12, "run_up", 0.7), (6, "step", 0.4)]
        )
    ]
    starts = look(make(Plan(tries)), table()).figures.starts
    assert set(starts) == {"run_up", "step"}
    run = starts["run_up"]
    assert (run.tries, run.flights, run.held) == (4, 2, 1)
    assert run.landing_to_push_s == pytest.approx(np.median([0.9, 0.5, 0.7]))
    assert len(run.first_periods_s) == 3


def test_sets_are_parted_by_long_pauses():
    first, second = flies([8, 8, 8]), flies([8, 8])
    for f in second:
        f.start += 900.0
    sets = look(make(Plan([*first, *second])), table()).figures.sets
    assert [s.tries for s in sets] == [3, 2]
    assert sets[0].rest_before_s is None
    assert sets[1].rest_before_s == pytest.approx(sets[1].start_s - sets[0].end_s)


@pytest.mark.parametrize(
    ("counts", "went"),
    [
        ([30, 32, 31, 12, 14, 10], 5),  # last three 36 of 93 pumps
        ([30, 32, 31, 25, 26, 24], None),  # 75 of 93: tired, not gone
        ([5, 4, 5, 1, 1, 1], None),  # under six pumps counts are chance
        ([20, 22, 24, 5, 5], 4),  # 34 of 66; not after six tries only
        ([14, 3, 4, 4, 3, 3], 3),  # best three 22, 7.3 in the mean, though one is of four
    ],
)
def test_when_the_legs_went(counts, went):
    outing = make(Plan(flies(counts)))
    found = look(outing, table()).figures.legs_went_s
    assert found == (None if went is None else outing.attempts[went].time)


def test_the_legs_go_when_the_coach_calls_it():
    """Any tries, some of them cut by a gap: looking back marks the first call of the live coach."""
    rng = np.random.default_rng(1)
    called = set()
    for _ in range(40):
        counts = [int(n) for n in rng.integers(0, 40, 5)] + [int(n) for n in rng.integers(0, 12, 5)]
        cut = [("gap", "fall", "fall", "fall")[k] for k in rng.integers(0, 4, len(counts))]
        outing = make(Plan([Fly(30.0 + 60.0 * i, [0.6] * n, ended_by=cut[i]) for i, n in enumerate(counts)]))
        guard = Guard(Settings())
        live = next((a.time for a in outing.attempts if guard.attempt_over(a)), None)
        assert look(outing, table()).figures.legs_went_s == live
        called.add(live)
    assert len(called) > 3 and None in called


def test_best_is_the_longest_of_your_own():
    tries = flies([10, 30, 20])
    tries[1].coast = 9.0  # carried
    assert look(make(Plan(tries)), table()).figures.best == 2


@pytest.mark.parametrize(
    ("kind", "after", "followed"),
    [("quicker", 0.55, True), ("quicker", 0.61, False), ("bigger", 0.6, False)],
)
def test_whether_the_next_six_pumps_followed_a_cue(kind, after, followed):
    periods = [0.6] * 10 + [after] * 10
    outing = make(Plan([Fly(20.0, periods)], cues=[(20.0 + 6.0 - 0.01, kind)]))
    assert look(outing, table()).figures.cues[0].followed is followed


def test_a_cue_at_the_end_of_a_flight_has_no_answer():
    outing = make(Plan([Fly(20.0, [0.6] * 10)], cues=[(25.0, "quicker")]))
    assert look(outing, table()).figures.cues[0].followed is None


def test_lock_to_the_click():
    onsets = 20.0 + 0.6 * np.arange(30)
    clicks = list(onsets - 0.03)  # always 30 ms before the onset: a twentieth of a period
    f = look(make(Plan([Fly(20.0, [0.6] * 30)], clicks=clicks)), table()).figures.flights[0]
    assert f.lock.r == pytest.approx(1.0)
    assert f.lock.mean_rad == pytest.approx(2.0 * np.pi * 0.05, abs=1e-6)
    assert look(make(Plan([Fly(20.0, [0.6] * 30)])), table()).figures.flights[0].lock is None


def three_hours():
    return Plan(flies([int(n) for n in np.random.default_rng(2).integers(0, 90, 90)], pause=85.0))


ODD = {
    "empty": Plan(length=0.0),
    "one sample": Plan(length=0.01),
    "nobody moved": Plan(length=120.0),
    "no flight": Plan(flies([0, 1, 2, 2])),
    "one pump": Plan(flies([1])),
    "three pumps": Plan(flies([3])),
    "no speed": Plan(flies([12, 30])),
    "hole through a flight": Plan(flies([12, 30]), gaps=[(55.0, 58.0), (130.0, 133.0)]),
    "rope drill": Plan(flies([12, 30], started_by="rope"), settings={"start": "rope_drill"}),
    "all carried": Plan(flies([12, 30], coast=9.0)),
    "nothing known of the start": Plan(flies([12]), start_utc="yesterday"),
    "three hours": three_hours(),
}


@pytest.mark.parametrize("name", ODD)
@pytest.mark.parametrize(("band", "lang"), [(True, "en"), (False, "en"), (True, "de")])
def test_an_odd_outing_gets_sensible_words_everywhere(name, band, lang):
    looked = look(make(ODD[name]), table() if band else None)
    advice = one_thing(looked)
    assert advice.says and advice.why and advice.practise
    assert len(score(looked)) == 16
    text = "\n".join(lines(looked, advice, Words(lang)))
    page = report_html(looked, lang=lang)
    for said in (text, page):
        assert re.findall(r"\b(None|nan|inf)\b", said) == [] and re.findall(r"Said\(|\{\w*\}", said) in ([], ["{}"])
    assert "<svg" in page or not looked.outing.attempts
    assert 'points=""' not in page


def test_words_of_an_empty_and_of_a_flightless_outing():
    empty = report_html(look(make(ODD["empty"]), table()))
    assert "Nothing to judge yet." in empty and "No try to get going was found." in empty
    none = report_html(look(make(ODD["no flight"]), table()))
    assert "No flight: no try reached three pumps." in none and "Work on the start" in none
    hole = report_html(look(make(ODD["hole through a flight"]), table()))
    assert "2 gaps in the data" in hole


def test_a_profile_or_band_of_another_version_costs_only_what_needs_it():
    from cadence_coach.review.gear import setup_of, table_of

    outing = make(Plan(flies([12]), profile={"rider": {"name": "Lea (invented)", "wings": 2}, "foil": 5}))
    assert setup_of(outing) is None and table_of(outing) is None
    import attrs

    broken = attrs.evolve(outing, profile=None, meta={"band": {"bands": [{"speed": 1}], "cruise_speed": "fast"}})
    assert table_of(broken) is None
    assert look(broken, None).figures.flights[0].pumps == 12
