"""One thing to work on: each rule just past and just short of its threshold, the order, and the focus."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from cadence_coach.core.settings import FOCI
from cadence_coach.review.advice import RULES, one_thing
from cadence_coach.review.figures import look
from cadence_coach.review.say import tell
from cadence_coach.review.start_rules import rest
from tests.review.build import Fly, Plan, make, steady, table
from tests.review.test_outing import flies


def advice(tries, band=None, **changes):
    return one_thing(look(make(Plan(tries, **changes)), band or table(needed=0.6)))


def big(counts, **changes):
    return flies(counts, **{"height": 0.7, **changes})


def test_a_clean_outing():
    found = advice(big([20, 25, 30]))
    assert (found.rule, found.focus) == ("clean", None)


def test_clean_claims_only_what_was_looked_at():
    """Under 18 pumps there is no early and late, without a profile no size that is needed."""

    def why(tries, band):
        found = one_thing(look(make(Plan(tries)), band))
        assert found.rule == "clean"
        return [told.split(":")[0] for told in map(tell, found.why)]

    flights, no_fade = (
        "In 3 of 3 flights with ten pumps and more",
        "In 3 of 3 long flights neither beat nor size faded.",
    )
    as_needed = "In 3 of 3 flights the size was as needed (estimate)."
    assert why(big([20, 25, 30]), table(needed=0.6)) == [flights, no_fade, as_needed]
    assert why(big([20, 25, 30]), None) == [flights, no_fade]
    assert why(big([12, 12, 12]), None) == [flights]
    assert why(flies([30], share=0.5, height=0.4), table(needed=0.6)) == [  # too small, but one short flight is no rule
        "In the one flight with ten pumps and more",
        "In the one long flight neither beat nor size faded.",
    ]


def test_a_flight_that_fades_is_not_called_clean():
    """Of three: one that slips from 80 to 67 a minute, one that shrinks by a third. Two of three, and no more clean."""

    def tries(slips, shrinks):
        return [
            Fly(
                30.0 + 90.0 * i,
                steady(80.0, 40, cv=0.02, seed=i, drift=-0.16 * (i == slips)),
                share=0.5,
                height=list(np.linspace(1.0, 0.65 if i == shrinks else 1.0, 40)),
            )
            for i in range(3)
        ]

    for slips, shrinks, left in ((1, None, (0, 2)), (None, 2, (0, 1))):
        found = advice(tries(slips, shrinks))
        assert (found.rule, found.flights) == ("clean", left)
        assert "In 2 of 3 long flights neither beat nor size faded." in tell(found.why)
    assert advice(tries(0, 1)).rule == "numbers"


def test_most_starts_die():
    assert advice(flies([2, 3, 2, 12])).rule == "start: does not hold"
    assert advice(big([12, 12, 12, 2])).rule == "clean"


@pytest.mark.parametrize(("gap", "rule"), [(0.85, "start: late push"), (0.75, "start: does not hold")])
def test_late_first_push(gap, rule):
    found = advice(flies([2, 2, 2, 12], landing_to_push=gap))
    assert (found.rule, found.focus) == (rule, "start")


@pytest.mark.parametrize(("beat", "named"), [(60.0, True), (80.0, False)])
def test_starts_that_die_beside_the_band_are_told_so(beat, named):
    """Too short for the rule of the cadence; 72 to 114 a minute is the band."""
    tries = [Fly(30.0 + 60.0 * i, [60.0 / beat] * n, share=0.5, height=0.9) for i, n in enumerate((6, 4, 4))]
    found = advice(tries)
    assert found.rule == "start: does not hold"
    assert ("3 of 3 short flights were out of the band" in tell(found.why)) is named
    assert ("There you pumped 60 a minute" in tell(found.why)) is named


@pytest.mark.parametrize(("slow", "rule"), [(0.75, "start: slow first pumps"), (0.62, "start: does not hold")])
def test_slow_first_pumps_of_the_tries_that_died(slow, rule):
    tries = [Fly(20.0 + 40.0 * i, [slow, 0.6, 0.6, 0.6]) for i in range(4)] + [
        Fly(300.0, [0.6] * 12),
        Fly(400.0, [0.6] * 12),
    ]
    assert advice(tries).rule == rule


# the half-sine pump of share .5 has its size as height; needed 0.6 g at 84 a minute, x sqrt(100 / 84) at 100
NEEDED_AT_100 = 0.6 * (100.0 / 84.0) ** 0.5


@pytest.mark.parametrize(("ratio", "rule"), [(0.82, "size: small"), (0.88, "clean")])
def test_small_pumps(ratio, rule):
    found = advice(flies([12, 12, 12], share=0.5, height=ratio * NEEDED_AT_100))
    assert found.rule == rule
    if rule.startswith("size"):
        assert tell(found.says) == "Push deeper, then get lighter." and found.flights == (0, 1, 2)
        assert "59 % of your weight" not in tell(found.why[0]) and "54 %" in tell(found.why[0])  # 0.82 x 0.655


def test_quick_and_small():
    tries = [Fly(30.0 + 60.0 * i, steady(118.0, 14, seed=i), share=0.5, height=0.45) for i in range(3)]
    found = advice(tries)
    assert (found.rule, found.focus) == ("size: quick and small", "size")


def test_a_push_without_a_glide_wants_lightness():
    # a short high push: peak 1 + .8 as high as needed, glide only .27 under 1 g
    found = advice(flies([12, 12, 12], share=0.25, height=0.8))
    assert found.rule == "size: not light"


def test_out_of_band_on_either_side():
    slow = [Fly(30.0 + 60.0 * i, steady(66.0, 14, seed=i), share=0.5, height=0.8) for i in range(3)]
    assert advice(slow).rule == "cadence: below"


@pytest.mark.parametrize(
    ("height", "says"), [(0.9, "Slow the beat."), (0.7, "Slow the beat and make each pump bigger.")]
)
def test_too_quick_is_to_be_bigger_only_where_the_size_is_too_small(height, says):
    """At 130 a minute 0.6 g x sqrt(130 / 84) = 0.75 g are needed: 0.9 g is enough, 0.7 g is 94 % of it."""
    tries = [Fly(30.0 + 60.0 * i, steady(130.0, 14, seed=i), share=0.5, height=height) for i in range(3)]
    found = advice(tries)
    assert (found.rule, tell(found.says)) == ("cadence: above", says)
    assert ("as deep as you can" in tell(found.practise)) is (height == 0.7)


def test_the_cadence_told_beside_the_band_is_that_of_the_pumps_which_were_out():
    """The band is 72 to 114 a minute. 20 pumps at 60 a minute and 22 at 80: with three of these the mean of five pumps
    is still at 71, so 22 of 36 s are below it, while the flight's median is the 80 of the larger part."""
    tries = [Fly(30.0 + 90.0 * i, [1.0] * 20 + [0.75] * 22, share=0.5, height=0.9) for i in range(3)]
    flight = look(make(Plan(tries)), table()).figures.flights[0]
    assert 60.0 * flight.cadence_hz == pytest.approx(80.0) and flight.below_band > 0.5
    found = advice(tries)
    assert found.rule == "cadence: below"
    assert "There you pumped 60 a minute; the band for you and this foil is 72 to 114" in tell(found.why)


@pytest.mark.parametrize(("drift", "rule"), [(-0.16, "fade: beat slipped"), (-0.05, "clean")])
def test_fade(drift, rule):
    tries = [Fly(30.0 + 90.0 * i, steady(100.0, 40, cv=0.02, seed=i, drift=drift), height=0.75) for i in range(3)]
    assert advice(tries).rule == rule


def test_a_step_of_tempo_does_not_hide_behind_the_unevenness_it_makes():
    """88 a minute, then 74 with 3 % of scatter: -16 % where 2 CV are 18 % and twice the scatter 6 to 8 %."""
    tries = [
        Fly(30.0 + 90.0 * i, steady(88.0, 20, seed=i) + steady(74.0, 20, seed=9 + i), share=0.5, height=0.8)
        for i in range(3)
    ]
    flights = look(make(Plan(tries)), table()).figures.flights
    assert all(-f.drift < 2.0 * f.steadiness for f in flights)
    assert advice(tries).rule == "fade: beat slipped"


@pytest.mark.parametrize(("off", "rule"), [(0.055, "numbers"), (0.065, "steadiness")])
def test_long_and_short_in_turn_are_as_uneven_as_the_table_says(off, rule):
    """Every other pump `off` longer, the others as much shorter: the CV of 39 such periods is off x sqrt(39/38), from
    neighbour to neighbour they differ by 2 off, so RMSSD / sqrt 2 is 1.4 off."""
    tries = [Fly(30.0 + 60.0 * i, [0.6 * (1 + off), 0.6 * (1 - off)] * 20, share=0.5, height=0.8) for i in range(3)]
    flight = look(make(Plan(tries)), table()).figures.flights[0]
    assert flight.steadiness == pytest.approx(off * (39 / 38) ** 0.5, rel=0.01)
    found = advice(tries)
    assert found.rule == rule
    if rule == "steadiness":
        assert "varied by 7 %" in tell(found.why)  # 6.6, and not the 9.2 from neighbour to neighbour


def test_fade_after_too_hard_a_start():
    heights = [1.0] * 8 + [0.75] * 32
    tries = [
        Fly(30.0 + 90.0 * i, steady(100.0, 40, cv=0.02, seed=i, drift=-0.16), share=0.5, height=heights)
        for i in range(3)
    ]
    found = advice(tries)
    assert found.rule == "fade: started too hard" and "33 % bigger" in tell(found.why[1])


def test_rushed_end():
    periods = [0.6] * 20 + [0.54] * 10
    heights = [0.9] * 20 + [0.7] * 10
    tries = [Fly(30.0 + 90.0 * i, periods, share=0.5, height=heights) for i in range(2)]
    assert advice(tries).rule == "size: rushed end"


@pytest.mark.parametrize(("ends", "rule"), [(0.76, "size: shrinks"), (0.82, "clean")])
def test_size_that_fades_under_a_beat_that_holds(ends, rule):
    """From 1 g evenly down over 40 pumps. The middles of pumps 4 to 11 and 31 to 38 are 6.5 and 33.5 of 39 steps down:
    at 0.76 g in the end 0.96 and 0.794 g (-17 %), at 0.82 g 0.97 and 0.845 g (-13 %)."""
    heights = list(np.linspace(1.0, ends, 40))
    tries = [Fly(30.0 + 90.0 * i, steady(84.0, 40, seed=i), share=0.5, height=heights) for i in range(3)]
    found = advice(tries)
    assert found.rule == rule
    if rule != "clean":
        assert found.focus == "size" and found.flights == (0, 1, 2)
        assert tell(found.why) == "In 3 of 3 long flights your pumps shrank from 96 % of your weight to 79 %."


def test_one_flight_of_three_that_shrinks_or_pumps_that_scatter_are_no_fade_of_size():
    rng = np.random.default_rng(3)
    chance = [list(0.8 * (1.0 + 0.08 * rng.standard_normal(40))) for _ in range(3)]
    dip = [0.8] * 30 + [0.6] * 8 + [0.8] * 2  # the late pumps a quarter smaller, all others alike: no slope
    for heights in (chance, [dip] * 3, [list(np.linspace(1.0, 0.64, 40)), [0.8] * 40, [0.8] * 40]):
        tries = [Fly(30.0 + 90.0 * i, steady(84.0, 40, seed=i), share=0.5, height=heights[i]) for i in range(3)]
        assert advice(tries).rule == "clean"


@pytest.mark.parametrize(("cv", "rule"), [(0.09, "steadiness"), (0.04, "clean")])
def test_steadiness(cv, rule):
    tries = [Fly(30.0 + 60.0 * i, steady(100.0, 16, cv=cv, seed=i), height=0.75) for i in range(3)]
    assert advice(tries).rule == rule


def test_a_pump_that_was_not_heard_asks_for_no_evenness():
    """One of 16 in each try, a double period, from a rider who is even."""
    tries = []
    for i in range(3):
        beat = steady(100.0, 17, cv=0.03, seed=i)
        tries.append(Fly(30.0 + 60.0 * i, [*beat[:8], beat[8] + beat[9], *beat[10:]], height=0.75))
    assert advice(tries).rule == "clean"


@pytest.mark.parametrize(("late", "rule"), [(0.52, "timing"), (0.38, "timing"), (0.47, "clean")])
def test_push_share_that_moves(late, rule):
    share = [0.45] * 20 + [late] * 10
    tries = [Fly(30.0 + 90.0 * i, steady(100.0, 30, cv=0.02, seed=i), share=share, height=0.8) for i in range(2)]
    assert advice(tries).rule == rule


def test_legs_gone_after_short_rests():
    counts = [30, 32, 31, 14, 12, 10]
    assert advice(flies(counts, pause=40.0, height=0.75)).rule == "rest"
    assert advice(flies(counts, pause=200.0, height=0.75)).rule != "rest"


def test_rests_after_the_legs_went_are_no_excuse():
    """Six tries in short rests, then as many again in long ones: what came before is what counts."""
    counts = [30, 32, 31, 14, 12, 10]
    tries = flies(counts, pause=40.0, height=0.75)
    later = flies([6] * 8, pause=200.0, height=0.75)
    for f in later:
        f.start += tries[-1].start + 200.0
    assert advice([*tries, *later]).rule == "rest"


def test_a_start_that_failed_asks_for_no_rest():
    """Five minutes after each flight, and each start failed twice, 15 s apart."""
    tries, start = [], 20.0
    for pumps in (30, 32, 31, 12, 10, 8):
        for n, pause in ((1, 15.0), (1, 15.0), (pumps, 300.0)):
            (one,) = flies([n], height=0.75)
            one.start = start
            tries.append(one)
            start += 0.75 * n + pause
    seen = look(make(Plan(tries)), table(needed=0.6))
    assert seen.figures.legs_went_s is not None
    assert rest(seen, ()) is None


def test_a_minute_and_more_wants_five_minutes_of_rest():
    """As the coach calls it: 200 s would do after the shorter ones."""
    counts = [112, 116, 114, 60, 20, 18]
    assert advice(flies(counts, pause=200.0, height=0.75)).rule == "rest"
    assert advice(flies(counts, pause=310.0, height=0.75)).rule != "rest"


def test_order_and_focus():
    """Small and uneven: size costs more and comes first, unless the focus was the beat."""
    tries = [Fly(30.0 + 60.0 * i, steady(100.0, 16, cv=0.09, seed=i), share=0.5, height=0.45) for i in range(3)]
    assert advice(tries).focus == "size"
    assert advice(tries, settings={"focus": "steadiness"}).focus == "steadiness"
    assert advice(tries, settings={"focus": "fade"}).focus == "size"  # nothing fades: the focus has no rule that holds


def test_a_flight_that_does_not_count_is_no_evidence():
    small = flies([12, 12, 12], share=0.5, height=0.4)
    assert advice(small).focus == "size"
    assert advice(small, settings={"start": "rope_drill"}).rule == "none"
    holes = [(f.start + 1.0, f.start + 1.3) for f in small]  # 4 % of 7 s
    assert advice(small, gaps=holes).rule == "none"
    assert advice(small, gaps=[(a, a + 0.1) for a, _ in holes]).focus == "size"


def test_one_long_flight_is_evidence_one_short_is_not():
    assert advice(flies([60], share=0.5, height=0.4)).focus == "size"
    assert advice(flies([30], share=0.5, height=0.4)).focus != "size"


def test_a_fade_is_no_unevenness():
    tries = [Fly(30.0 + 90.0 * i, steady(100.0, 17, cv=0.02, seed=i, drift=-0.35), height=0.75) for i in range(3)]
    assert look(make(Plan(tries)), table()).figures.flights[0].steadiness > 0.06
    assert advice(tries).rule != "steadiness"


def test_every_focus_of_an_advice_is_one_the_coach_knows():
    import inspect

    source = "".join(inspect.getsource(rule) for rule in RULES)
    assert all(f in FOCI or f is None for f in {advice(flies(c)).focus for c in ([2, 2, 2], [12, 12, 12], [1])})
    assert len(RULES) == 9 and '"nose' not in source


def test_a_glide_that_is_light_enough_is_not_told_to_get_lighter():
    import attrs

    outing = make(Plan(flies([12, 12, 12], share=0.25, height=0.8)))
    deep = [dataclasses.replace(c, lowest_g=0.4) for c in outing.cycles]  # 0.6 under 1 g where 0.65 is needed
    assert one_thing(look(attrs.evolve(outing, cycles=deep), table(needed=0.6))).rule == "size: small"


def test_a_third_of_the_time_out_of_band_is_no_advice():
    periods = [0.62] * 26 + [0.92] * 9
    tries = [Fly(30.0 + 60.0 * i, periods, share=0.5, height=0.85) for i in range(3)]
    found = look(make(Plan(tries)), table()).figures.flights[0]
    assert 0.1 < found.below_band < 0.5
    assert not advice(tries).rule.startswith("cadence")


def test_in_a_rope_drill_the_next_rope_rung_and_who_confirms_it():
    """Nothing there is one's own: "fly on your own" is no help to somebody who cannot yet."""
    drill = {"settings": {"start": "rope_drill"}, "length": 15.0}
    for tries in ([], [Fly(20.0, [0.7] * 2, started_by="rope")], [Fly(20.0, [0.7] * 12, started_by="rope")]):
        found = advice(tries, **drill)
        assert (found.rule, tell(found.says)) == ("none", "Level on the rope.")
        assert "Ten quiet seconds" in tell(found.why) and "Not confirmed" in tell(found.why)
        assert tell(found.practise).endswith("review --confirm NAME.")
        assert tell(found.practise, "de").endswith("review --confirm NAME.")
    told = {**drill, "length": 50.0, "tags": {"confirmed_by": "Jo (invented)"}}
    up = advice([Fly(25.0, [0.7] * 9, started_by="rope")], **told)
    assert tell(up.says) == "Up and down on the rope." and "9 in a row" in tell(up.why)
    assert "--confirm" not in tell(up.practise)
