"""The word after a flight: figures, the one sentence, and what is said of it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cadence_coach.core.events import AttemptEnded, CycleDone, FlightEnded, SpeedFix
from cadence_coach.core.rules import WORD_LONGEST_S
from cadence_coach.core.settings import FOCI
from cadence_coach.core.tally import Memory, Tally
from cadence_coach.core.word import (
    SENTENCES,
    Flown,
    Past,
    count,
    decimal,
    duration,
    every_part,
    number,
    sentence,
    speech_seconds,
    word,
)

FLOWN = Flown(
    flight=3,
    seconds=24.2,
    best_today=False,
    pumps=34,
    started_by="run_up",
    cadence=1.40,
    early=1.42,
    late=1.38,
    size=0.62,
    size_needed=0.60,
    size_first=0.62,
    steadiness=0.06,
    speed_early=None,
    speed_late=None,
    landing_to_push=0.4,
)
PAST = Past((3, 5), False, False, frozenset(), None)


def test_numbers_are_put_together_from_recorded_parts() -> None:
    assert number(0) == ("n_0",)
    assert number(34) == ("n_34",)
    assert number(99.5) == ("n_100",)
    assert number(347) == ("n_300", "n_47")
    assert number(2060) == ("n_2000", "n_60")
    assert number(1e9) == ("n_9000", "n_900", "n_99")
    assert decimal(0.95) == ("n_1", "point", "n_0")
    assert duration(99.4) == (("n_99", "seconds"), ())
    assert duration(99.6) == (("n_1", "minutes"), ("n_40", "seconds"))
    assert duration(180.0) == (("n_3", "minutes"), ())
    assert count(1260) == ("n_1000", "n_300")


@given(st.integers(0, 9999))
def test_every_number_adds_up(n: int) -> None:
    assert sum(int(part[2:]) for part in number(n)) == n
    assert set(number(n)) <= set(every_part())


def test_figures_in_order() -> None:
    assert word(FLOWN, PAST, None).figures == (
        ("seconds", 24.2),
        ("best_today", 0.0),
        ("pumps", 34.0),
        ("cadence_early_per_min", pytest.approx(85.2)),
        ("cadence_late_per_min", pytest.approx(82.8)),
        ("size_percent", pytest.approx(62.0)),
        ("size_needed_percent", pytest.approx(60.0)),
        ("steadiness_percent", pytest.approx(6.0)),
    )
    short = replace(FLOWN, pumps=5, early=None, late=None, steadiness=None)
    names = [name for name, _ in word(short, PAST, None).figures]
    assert names == [
        "seconds", "best_today", "pumps", "starts_held", "starts_of", "cadence_per_min", "size_percent",
        "size_needed_percent", "landing_to_push_s",
    ]  # fmt: skip
    values = dict(word(short, PAST, None).figures)
    assert (values["starts_held"], values["starts_of"]) == (3.0, 5.0)
    assert values["cadence_per_min"] == pytest.approx(84.0)
    fast = replace(FLOWN, speed_early=4.6, speed_late=4.1)
    assert word(fast, PAST, None).figures[-2:] == (("speed_early_m_s", 4.6), ("speed_late_m_s", 4.1))


def test_spoken_the_first_two_and_the_one_of_the_focus() -> None:
    assert word(FLOWN, PAST, None).spoken == ("n_24", "seconds", "n_34", "pumps")
    assert word(FLOWN, PAST, "cadence").spoken[4:] == ("cadence", "n_85", "then", "n_83")
    one = replace(FLOWN, early=None, late=None)
    assert word(one, PAST, "cadence").spoken[4:] == ("cadence", "n_84")
    assert word(FLOWN, PAST, "size").spoken[4:] == ("size", "n_62", "of", "n_60", "percent")
    assert word(FLOWN, PAST, "steadiness").spoken[4:] == ("steady_within", "n_6", "percent")
    assert word(FLOWN, PAST, "start").spoken[4:] == ("first_push_after", "n_0", "point", "n_4", "seconds")
    fast = replace(FLOWN, speed_early=4.6, speed_late=4.1)
    assert word(fast, PAST, "speed").spoken[4:] == ("speed", "n_4", "point", "n_6", "then", "n_4", "point", "n_1")
    best = replace(FLOWN, best_today=True)
    assert word(best, PAST, None).spoken[:3] == ("n_24", "seconds", "best_today")
    short = replace(FLOWN, pumps=5, steadiness=None)
    assert word(short, PAST, None).spoken[2:] == ("n_5", "pumps", "n_3", "of_the_last", "n_5", "starts_held")


# ---- each sentence: just holding, just not ----

SHORT = replace(FLOWN, pumps=7, steadiness=None, early=None, late=None)
SLOW = replace(PAST, slow_starts=True)
SMALL = replace(PAST, small_flights=True)


@pytest.mark.parametrize(
    ("flown", "past", "expected"),
    [
        (SHORT, SLOW, "push_at_once"),
        (replace(SHORT, started_by="step"), SLOW, "push_at_once"),
        (replace(SHORT, started_by="rope"), SLOW, None),
        (replace(SHORT, pumps=8), SLOW, None),
        (SHORT, PAST, None),
        (replace(FLOWN, pumps=6), SMALL, "push_deeper"),
        (replace(FLOWN, pumps=5), SMALL, None),
        (FLOWN, PAST, None),
        (replace(FLOWN, cadence=1.91), SMALL, "slow_use_leg"),
        (replace(FLOWN, cadence=1.89), SMALL, "push_deeper"),
        (replace(FLOWN, cadence=1.5), replace(SMALL, own_best_cadence=1.36), "slow_use_leg"),
        (replace(FLOWN, cadence=1.5), replace(SMALL, own_best_cadence=1.37), "push_deeper"),
        (replace(FLOWN, early=1.50, late=1.37, steadiness=0.03), PAST, "rest_then_hold"),
        (replace(FLOWN, early=1.50, late=1.39, steadiness=0.03), PAST, "clean"),
        (replace(FLOWN, early=1.50, late=1.39, steadiness=None), PAST, None),
        (replace(FLOWN, early=1.50, late=1.39, steadiness=0.06), PAST, None),
        (replace(FLOWN, early=1.50, late=1.35, steadiness=0.06), PAST, None),
        (replace(FLOWN, early=1.50, late=1.31, steadiness=0.06), PAST, "rest_then_hold"),
        (replace(FLOWN, early=1.50, late=1.31, size_first=0.72), PAST, "start_easier"),
        (replace(FLOWN, early=1.50, late=1.31, size_first=0.70), PAST, "rest_then_hold"),
        (replace(FLOWN, early=1.50, late=1.2, pumps=17), PAST, None),
        (replace(FLOWN, steadiness=0.05), PAST, "clean"),
        (replace(FLOWN, steadiness=0.051), PAST, None),
        (replace(FLOWN, steadiness=0.04), replace(PAST, worn=frozenset({"clean"})), None),
        (replace(FLOWN, steadiness=0.04), SMALL, "push_deeper"),
        (replace(FLOWN, steadiness=0.04), replace(SMALL, worn=frozenset({"push_deeper"})), None),
    ],
)
def test_sentence(flown: Flown, past: Past, expected: str | None) -> None:
    assert sentence(flown, past, None) == expected


def test_the_focus_goes_first_and_a_worn_sentence_makes_room() -> None:
    both = replace(FLOWN, early=1.50, late=1.31)
    assert sentence(both, SMALL, None) == "push_deeper"
    assert sentence(both, SMALL, "fade") == "rest_then_hold"
    assert sentence(both, replace(SMALL, worn=frozenset({"push_deeper"})), None) == "rest_then_hold"


flowns = st.builds(
    Flown,
    flight=st.integers(0, 500),
    seconds=st.floats(1.0, 9000.0),
    best_today=st.booleans(),
    pumps=st.integers(3, 9000),
    started_by=st.sampled_from(["run_up", "rope", "step", "unknown"]),
    cadence=st.floats(0.5, 3.0),
    early=st.none() | st.floats(0.5, 3.0),
    late=st.none() | st.floats(0.5, 3.0),
    size=st.floats(0.05, 2.0),
    size_needed=st.none() | st.floats(0.2, 1.5),
    size_first=st.none() | st.floats(0.05, 2.0),
    steadiness=st.none() | st.floats(0.0, 1.0),
    speed_early=st.none() | st.floats(0.0, 12.0),
    speed_late=st.none() | st.floats(0.0, 12.0),
    landing_to_push=st.none() | st.floats(0.0, 5.0),
)
pasts = st.builds(
    Past,
    starts_held=st.tuples(st.integers(0, 5), st.integers(0, 5)),
    slow_starts=st.booleans(),
    small_flights=st.booleans(),
    worn=st.frozensets(st.sampled_from(sorted(SENTENCES))),
    own_best_cadence=st.none() | st.floats(0.8, 2.0),
)


@given(flowns, pasts, st.sampled_from([None, *FOCI]))
def test_any_word_is_short_and_made_of_known_parts(flown: Flown, past: Past, focus: str | None) -> None:
    said = word(flown, past, focus)
    assert set(said.spoken) <= set(every_part())
    assert speech_seconds(said.spoken) <= WORD_LONGEST_S
    if said.sentence is not None and flown.pumps < 1000 and flown.seconds < 3600:
        assert said.spoken[-1] == said.sentence, "longer numbers may leave it to the screen"
    assert "pumps" in said.spoken and ("seconds" in said.spoken or "minutes" in said.spoken)
    assert said == word(flown, past, focus)


def test_every_part_has_a_text_and_none_names_what_the_body_cannot_show() -> None:
    texts = [t for t in every_part().values() if isinstance(t, str)]
    assert all(texts)
    for forbidden in ("nose", "front foot", "back foot", "height", "angle"):
        assert not [t for t in texts if forbidden in t]


def test_how_long_numbers_take_is_by_their_syllables() -> None:
    """Syllables of English numbers as a dictionary divides them (from memory: CMU Pronouncing Dictionary)."""
    small = [2, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1, 3, 1, 2, 2, 2, 2, 3, 2, 2]  # ze-ro, one ... e-le-ven ... nine-teen
    tens = {20: 2, 30: 2, 40: 2, 50: 2, 60: 2, 70: 3, 80: 2, 90: 2}  # only se-ven-ty has three
    syllables = dict(enumerate(small))
    syllables |= {t + u: n + (syllables[u] if u else 0) for t, n in tens.items() for u in range(10)}
    syllables |= {h * k: 2 + syllables[h] for h in range(1, 10) for k in (100, 1000)}  # hun-dred, thou-sand
    assert {n: round((speech_seconds((f"n_{n}",)) - 0.1) / 0.2) for n in syllables} == syllables
    assert set(syllables) == {n for n in every_part().values() if isinstance(n, int)}
    assert speech_seconds(("seconds", "n_7")) == pytest.approx((0.1 + 2 * 0.2) + (0.1 + 2 * 0.2))


def test_what_does_not_fit_is_left_out_in_its_order() -> None:
    """First the seconds over the minutes, then the best today, then the starts; pumps and time are always said."""
    long_ = replace(FLOWN, seconds=779.0, pumps=977, best_today=True, early=1.27, late=1.17)
    assert word(long_, PAST, "cadence").spoken[:4] == ("n_12", "minutes", "n_900", "n_77")
    assert "best_today" not in word(long_, PAST, "cadence").spoken
    assert word(replace(long_, pumps=900), PAST, None).spoken[:3] == ("n_12", "minutes", "n_59")
    focus_last = replace(long_, size=0.37, size_needed=0.77)  # the sentence stays longer than the figure of the focus
    said = word(focus_last, replace(PAST, small_flights=True), "size")
    assert said.spoken[-1] == said.sentence == "push_deeper" and "size" not in said.spoken


# ---- the figures come from the right pumps ----


def pump(number: int, onset: float, period: float, size: float = 0.6) -> CycleDone:
    return CycleDone(
        onset + period, onset + period, number, onset, onset + 0.1, onset + 0.3, onset + 0.5, 1.7, 0.4, size, 0.2
    )


def ended(pumps: int, seconds: float, **how: object) -> FlightEnded:
    values = {"size_g": 0.6, "steadiness": 0.03, "started_by": "run_up", "ended_by": "fall", "cadence": 1.4} | how
    return FlightEnded(
        seconds, seconds + 2, 0, 0.0, pumps - 1, pumps, values["cadence"], 0.45, values["size_g"], values["steadiness"],  # type: ignore[arg-type]
        values["started_by"], values["ended_by"], 0.0,  # type: ignore[arg-type]
    )  # fmt: skip


def test_windows_of_early_and_late() -> None:
    """30 pumps whose period says their number: early is the median of 4 to 11, late of the last eight before the
    final two."""
    tally, t = Tally(), 0.0
    for k in range(30):
        period = 0.5 + 0.01 * (k + 1)
        tally.pump(pump(k, t, period, size=0.01 * (k + 1)))
        t += period
    flown = tally.flown(ended(30, t), None, None, False)
    assert flown.early == pytest.approx(1 / (0.5 + 0.01 * 7.5))
    assert flown.late == pytest.approx(1 / (0.5 + 0.01 * 24.5))
    assert flown.size_first == pytest.approx(0.045)
    # cycles after the last pump of the flight are no pumps of it
    for k in range(30, 32):
        tally.pump(pump(k, t, 3.0))
    assert tally.flown(ended(30, t), None, None, False) == flown
    assert tally.flown(ended(17, t), None, None, False).early is None


@pytest.mark.parametrize("missing", [2, 20])
def test_a_window_with_a_pump_missing_gives_no_two_cadences(missing: int) -> None:
    """One of the first eleven, or one of the last eight before the final two, was not seen whole."""
    tally = Tally()
    for k in range(9 if missing == 2 else 19):
        tally.pump(pump(k, 0.7 * k, 0.7))
    flown = tally.flown(ended(30 if missing == 2 else 18, 20.0), None, None, False)
    assert flown.early is None or missing == 20
    assert (flown.early is None) == (flown.late is None)


def test_speeds_need_eight_fixes() -> None:
    tally = Tally()
    for k in range(7):
        tally.fix(SpeedFix(k, k, 5.0 - 0.1 * k, None, None, 0.4, None))
    assert tally.speed(20.0) is None
    tally.fix(SpeedFix(7.0, 7.0, 4.3, None, None, 0.4, None))
    flown = tally.flown(ended(30, 20.0), None, None, False)
    assert (flown.speed_early, flown.speed_late) == (pytest.approx(4.85), pytest.approx(4.45))
    assert tally.speed(20.0) == pytest.approx(4.65)
    assert tally.speed(7.0) is not None and tally.speed(6.9) is None


@pytest.mark.parametrize("per_second", [1, 10])
def test_speeds_of_a_walk_right_after_the_flight_are_none_of_its(per_second: int) -> None:
    """Whoever steps off walks on before the end is told: up to 11 s, at as many fixes as a watch gives."""
    tally = Tally()
    for k in range(12 * per_second):
        tally.fix(SpeedFix(k / per_second, k / per_second, 5.0, None, None, 0.4, None))
    end = ended(30, 12.0)
    before = tally.flown(end, None, None, False)
    for k in range(1, 11 * per_second + 1):
        t = 12.0 + k / per_second
        tally.fix(SpeedFix(t, t, 1.4, None, None, 0.4, None))
    after = tally.flown(end, None, None, False)
    assert (after.speed_early, after.speed_late) == (before.speed_early, before.speed_late) == (5.0, 5.0)
    assert tally.speed(12.0) == 5.0
    few = Tally()
    for k in range(14):
        few.fix(SpeedFix(k, k, 5.0 if k < 7 else 1.4, None, None, 0.4, None))
    assert few.speed(6.5) is None and few.flown(ended(8, 6.5), None, None, False).speed_late is None


def attempt(
    late: float | None, flight: int | None, by: str = "run_up", pumps: int = 5, ended: str = "fall"
) -> AttemptEnded:
    return AttemptEnded(1.0, 1.0, 0, 0.0, pumps, by, 3.0, late, ended, flight)


def test_memory_of_starts_flights_and_sentences() -> None:
    memory = Memory()
    for flight, pumps in ((None, 2), (0, 5), (1, 40), (None, 0), (2, 5), (3, 4)):
        memory.attempt(attempt(0.5, flight, pumps=pumps))
    assert memory.held == (3, 5), "five pumps hold, as in look-back; the first is forgotten"
    for _ in range(3):
        memory.attempt(attempt(0.5, 4, pumps=30, ended="gap"))
    assert memory.held == (3, 5), "nobody saw how it went on"
    memory.attempt(attempt(0.9, None))
    assert not memory.slow_starts
    memory.attempt(attempt(0.9, 3))
    assert memory.slow_starts
    memory.attempt(attempt(0.9, 4, "rope"))
    assert memory.slow_starts, "a rope start is no try of that kind"
    memory.attempt(attempt(0.5, 5))
    assert not memory.slow_starts, "the last one was quick"
    small, fine = replace(FLOWN, size=0.4), FLOWN
    for flown in (small, fine, small):
        memory.flight(flown)
    assert memory.small_flights
    memory.flight(fine)
    assert not memory.small_flights
    memory.flight(small)
    assert memory.small_flights, "the last one and the one before the last but one"
    for flown in (fine, fine, small):
        memory.flight(flown)
    assert not memory.small_flights, "one of three"
    memory.flight(fine)
    assert not memory.small_flights
    memory.flight(replace(small, pumps=6))
    memory.flight(replace(small, pumps=5))
    assert not memory.small_flights, "five pumps are too few to say"
    memory.flight(replace(small, pumps=6))
    assert memory.small_flights
    memory.said("clean")
    memory.said(None)
    assert memory.worn == {"clean"}
    memory.said(None)
    assert memory.worn == frozenset()
    assert [memory.longest(s) for s in (20.0, 10.0, 30.0, 30.0)] == [False, False, True, False]


def test_steadiness_is_told_from_ten_pumps_on() -> None:
    """Fewer periods say little: own value."""
    for pumps, told in ((9, None), (10, 0.03)):
        assert Tally().flown(ended(pumps, 6.0), None, None, False).steadiness == told


def test_scatter_is_what_a_drift_leaves() -> None:
    """Periods from 0.60 to 0.75 s in 30 even steps: CV 7 %, scatter 0.7 / sqrt 2 %. Without a step nothing is told."""
    tally, t = Tally(), 0.0
    for k in range(30):
        period = 0.60 + 0.15 * k / 29
        tally.pump(pump(k, t, period))
        t += period
    flown = tally.flown(ended(30, t, steadiness=0.068), None, None, False)
    assert flown.scatter == pytest.approx(0.15 / 29 / 0.675 / math.sqrt(2), rel=0.1)
    assert Tally().flown(ended(30, t), None, None, False).scatter is None


def test_a_fade_does_not_hide_behind_itself() -> None:
    """12 % slower at the end is a fade for who scatters by 3 %, though the CV with the drift in it is 7 %."""
    faded = replace(FLOWN, early=1.50, late=1.32, steadiness=0.07)
    assert sentence(faded, PAST, None) is None
    assert sentence(replace(faded, scatter=0.03), PAST, None) == "rest_then_hold"
    assert sentence(replace(faded, scatter=0.09), PAST, None) is None, "never more than the CV"
