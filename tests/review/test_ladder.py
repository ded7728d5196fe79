"""Every rung just reached and just missed, and what keeps a span from being scored."""

from __future__ import annotations

from dataclasses import replace

import attrs
import numpy as np
import pytest

from cadence_coach.core.units import G
from cadence_coach.review.figures import look
from cadence_coach.review.ladder import merge, next_rung, score
from cadence_coach.review.rungs import RUNGS
from cadence_coach.review.say import tell
from tests.review.build import Fly, Plan, make, steady, table
from tests.review.test_outing import flies


def rungs(plan_or_outing, band=True):
    outing = make(plan_or_outing) if isinstance(plan_or_outing, Plan) else plan_or_outing
    return {r.key: r for r in score(look(outing, table() if band else None))}


def seconds(*lengths, **changes):
    """Flights of these lengths at 100 a minute."""
    return flies([round(s / 0.6) for s in lengths], **{"height": 0.75, **changes})


# ---- on your own ----


@pytest.mark.parametrize(
    ("counts", "gap", "passed"),
    [
        ([5, 2, 6, 1, 5], 0.8, True),
        ([5, 2, 6, 1, 4], 0.8, False),
        ([5, 5, 5, 5, 5], 0.81, False),
        ([9, 9, 9, 1, 1, 1, 1], 0.5, True),
    ],
)
def test_own_start(counts, gap, passed):
    found = rungs(Plan(flies(counts, landing_to_push=gap)))["own_start"]
    assert found.passed is passed


def test_own_start_counts_three_within_five_in_a_row():
    apart = [5, 1, 1, 5, 1, 1, 5]  # never three within five
    assert not rungs(Plan(flies(apart)))["own_start"].passed


def test_ten_pumps_three_times():
    assert rungs(Plan(flies([10, 11, 12])))["ten_pumps"].passed
    assert not rungs(Plan(flies([10, 11, 9])))["ten_pumps"].passed


def test_ten_pumps_with_one_long_interval_do_not_count():
    slow = [0.6, 0.6, 0.6, 0.6, 0.95, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6]  # 1.58 x the running median
    tries = [Fly(30.0 + 60.0 * i, slow if i == 2 else [0.6] * 11) for i in range(3)]
    assert rungs(Plan(tries))["ten_pumps"].best == 2.0


def test_ten_pumps_that_get_small_do_not_count():
    heights = [0.8] * 7 + [0.6] * 4  # 0.75 of the size of pumps 3 to 5
    assert not rungs(Plan(flies([11, 11, 11], height=heights, share=0.5)))["ten_pumps"].passed


@pytest.mark.parametrize(
    ("key", "reached", "missed"),
    [
        ("seconds_10", (11, 11, 11), (11, 11, 9)),
        ("seconds_30", (32, 32), (32, 28)),
        ("seconds_60", (62, 47), (62, 43)),
        ("minutes_2", (125,), (115,)),
        ("minutes_3", (185,), (175,)),
        ("minutes_5", (305,), (290,)),
        ("minutes_10", (610,), (590,)),
        ("minutes_20", (1210,), (1190,)),
        ("minutes_30", (1810,), (1790,)),
    ],
)
def test_rungs_of_time(key, reached, missed):
    assert rungs(Plan(seconds(*reached)))[key].passed
    assert not rungs(Plan(seconds(*missed)))[key].passed


def test_thirty_seconds_with_a_drifting_beat_do_not_count():
    def fade(drift):
        return Plan([Fly(30.0 + 90.0 * i, steady(100.0, 60, cv=0.01, seed=i, drift=drift)) for i in range(2)])

    assert rungs(fade(-0.08))["seconds_30"].passed
    drifted = rungs(fade(-0.25))["seconds_30"]
    assert not drifted.passed
    assert tell(drifted.shown).endswith(
        "0 such flights. 2 long enough, but with a beat that changed by more than 10 %."
    )


def test_two_minutes_mostly_coasted_do_not_count():
    two = [Fly(30.0, [0.6] * 210, coast=5.0), Fly(400.0, [0.6] * 170, coast=20.0)]
    assert rungs(Plan(two[:1]))["minutes_2"].passed
    assert not rungs(Plan(two[1:], tags={"helped:0": "no"}))["minutes_2"].passed


def there_and_back(metres_apart, turn=180.0, lengths=(36.0, 36.0)):
    outing = make(Plan(seconds(*lengths, speed=4.0), place=(47.0, 8.0)))
    fixes = outing.fixes.copy()
    for f in outing.flights:
        rows = np.flatnonzero((fixes[:, 1] >= f.start) & (fixes[:, 1] <= f.time))
        half = len(rows) // 2
        north = np.concatenate([np.linspace(0, 60, half), np.linspace(60, metres_apart, len(rows) - half)])
        fixes[rows, 3] = 47.0 + np.degrees(north / 6_371_008.8)
        fixes[rows, 4] = 8.0
        fixes[rows, 6] = np.where(np.arange(len(rows)) < half, 350.0, (350.0 + turn) % 360.0)
    return attrs.evolve(outing, fixes=fixes)


def test_there_and_back():
    assert rungs(there_and_back(15.0))["there_and_back"].passed
    assert not rungs(there_and_back(25.0))["there_and_back"].passed
    assert not rungs(there_and_back(15.0, turn=140.0))["there_and_back"].passed
    assert not rungs(there_and_back(15.0, lengths=(36.0, 25.0)))["there_and_back"].passed
    assert "No place" in tell(rungs(Plan(seconds(36)))["there_and_back"].missing)


def test_there_and_back_by_places_alone():
    """`heading_deg` is optional: 60 m north and back tell the turn, places that err by 1 m (SD) each too; a turn aside
    at the far end is none."""
    rng = np.random.default_rng(1)

    def by_places(metres_apart, aside=0.0, err=0.0, keep=None):
        outing = there_and_back(metres_apart)
        fixes = outing.fixes.copy()
        fixes[:, 6] = np.nan
        for f in outing.flights:
            rows = np.flatnonzero((fixes[:, 1] >= f.start) & (fixes[:, 1] <= f.time))
            half = len(rows) // 2
            fixes[rows[half:], 4] += np.linspace(0.0, aside, len(rows) - half) / 75_800.0
            fixes[rows[:, None], [3, 4]] += np.degrees(err * rng.standard_normal((len(rows), 2)) / 6_371_008.8)
            if keep is not None:
                fixes[rows[keep:-keep], 3:5] = np.nan
        return rungs(attrs.evolve(outing, fixes=fixes))["there_and_back"]

    assert by_places(15.0).passed and by_places(15.0, err=1.0).passed
    assert not by_places(25.0).passed
    beside = by_places(60.0, aside=15.0)
    assert not beside.passed and beside.best == 0.0
    lost = by_places(15.0, keep=2)
    assert lost.best is None and "cannot be scored" in tell(lost.standing)


def test_a_hole_in_the_data_is_not_scored_and_says_so():
    plan = Plan(seconds(11, 11, 11), gaps=[(35.0, 35.3)])
    found = rungs(plan)["seconds_10"]
    assert not found.passed and "gap in the data" in tell(found.missing)


def test_a_carried_flight_is_not_scored_and_says_so():
    tries = seconds(11, 11, 11)
    tries[0].coast = 9.0
    found = rungs(Plan(tries))["seconds_10"]
    assert not found.passed and "swell" in tell(found.missing)


# ---- on the rope ----

DRILL = {"settings": {"start": "rope_drill"}, "tags": {"confirmed_by": "Jo (invented)"}}


def test_rope_rungs_need_the_drill_and_somebody_who_confirms():
    quiet = Plan(length=30.0)
    assert "armed rope drill" in tell(rungs(quiet)["rope_level"].missing)
    unconfirmed = rungs(Plan(length=30.0, settings=DRILL["settings"]))["rope_level"]
    assert not unconfirmed.passed and "Not confirmed" in tell(unconfirmed.missing)
    assert rungs(Plan(length=30.0, **DRILL))["rope_level"].passed


def test_a_list_shows_what_is_missing_until_a_rung_is_reached():
    def shown(**more):
        plan = Plan([Fly(20.0, [0.7] * 10, share=0.3, height=0.6, started_by="rope")], **(DRILL | more))
        return tell(rungs(plan)["rope_pump"].shown)

    assert shown() == "10 in a row"
    assert shown(tags={}).startswith("10 in a row. Not confirmed") and "--confirm NAME" in shown(tags={})


def level(swing_g=0.0, hz=1.5, tilt_deg=0.0, length=30.0):
    outing = make(Plan(length=length, **DRILL))
    t = outing.accel[:, 0]
    g = G * (1.0 + swing_g * np.sin(2 * np.pi * hz * t))
    angle = np.radians(tilt_deg) * np.sin(2 * np.pi * t / 20.0)  # slow: the mean over 3 s follows
    return attrs.evolve(outing, accel=np.column_stack([t, g * np.sin(angle), 0 * t, g * np.cos(angle)]))


@pytest.mark.parametrize(
    ("signal", "passed"),
    [
        ({"swing_g": 0.13}, True),  # RMS .092 g
        ({"swing_g": 0.15}, False),  # RMS .106 g
        ({"swing_g": 0.15, "hz": 8.0}, True),  # outside 0.5-5 Hz: a pouch that rings
        ({"tilt_deg": 8.0}, True),
        ({"tilt_deg": 25.0}, False),
        ({"length": 19.0}, False),  # only once ten seconds
    ],
)
def test_level_on_the_rope(signal, passed):
    assert rungs(level(**signal))["rope_level"].passed is passed


def test_one_jolt_breaks_the_quiet():
    outing = level()
    accel = outing.accel.copy()
    for at in (5.0, 15.0, 25.0):
        accel[np.abs(accel[:, 0] - at) < 0.05, 3] += 0.5 * G
    assert not rungs(attrs.evolve(outing, accel=accel))["rope_level"].passed


@pytest.mark.parametrize(
    ("periods", "share", "height", "passed"),
    [
        ([0.7] * 10, 0.45, 0.6, True),
        ([0.7] * 9, 0.45, 0.6, False),
        ([1.1] * 10, 0.45, 0.6, False),  # too slow
        ([0.55, 0.8] * 5, 0.45, 0.6, False),  # CV 19 %
        ([0.7] * 10, 0.45, 0.2, False),  # travel 4.3 cm
        ([0.7] * 10, 0.2, 0.9, False),  # catch and shove a tenth each
    ],
)
def test_up_and_down_on_the_rope(periods, share, height, passed):
    plan = Plan([Fly(20.0, periods, share=share, height=height, started_by="rope")], **DRILL)
    assert rungs(plan)["rope_pump"].passed is passed


def test_up_and_down_mastered():
    assert "mastered" in tell(rungs(Plan([Fly(20.0, [0.7] * 12, share=0.5, height=0.6)], **DRILL))["rope_pump"].said)
    assert "mastered" not in tell(
        rungs(Plan([Fly(20.0, [0.7] * 12, share=0.3, height=0.6)], **DRILL))["rope_pump"].said
    )


def test_faster_than_the_rope():
    def gain(by):
        outing = make(Plan([Fly(30.0, [0.6] * 15, started_by="rope")], length=60.0, **DRILL))
        t = np.arange(15.0, 50.0)
        speed = np.where(t < 32.0, 4.0, 4.0 + by)
        nan = np.full(len(t), np.nan)
        return attrs.evolve(outing, fixes=np.column_stack([t, t, speed, nan, nan, nan, nan, np.ones(len(t))]))

    assert rungs(gain(0.45))["rope_faster"].passed
    assert not rungs(gain(0.35))["rope_faster"].passed


# ---- on land ----


def squats(sets, per_min=90.0, spread_ms=10.0, seed=0, count=60):
    rng = np.random.default_rng(seed)
    tries, clicks, t = [], [], 10.0
    for _ in range(sets):
        period = 60.0 / per_min
        beats = t + period * np.arange(count + 1)
        onsets = beats + spread_ms / 1000.0 * rng.standard_normal(count + 1)
        tries.append(Fly(float(onsets[0]), [float(p) for p in np.diff(onsets)], started_by="unknown"))
        clicks += list(beats)
        t = beats[-1] + 120.0
    return Plan(tries, clicks=clicks, settings={"start": "land"})


@pytest.mark.parametrize(
    ("plan", "passed"),
    [
        (squats(2), True),
        (squats(1), False),
        (squats(2, count=55), False),
        (squats(2, per_min=80.0), False),
        (squats(2, spread_ms=45.0), False),
    ],
)
def test_the_beat_on_land(plan, passed):
    assert rungs(plan)["land_beat"].passed is passed


def sets_of(*good):
    """Sets one after the other, each good or with too much scatter."""
    plans = [squats(1, spread_ms=10.0 if one else 45.0, seed=seed) for seed, one in enumerate(good)]
    tries, clicks = [], []
    for at, plan in enumerate(plans):
        tries += [replace(fly, start=fly.start + 200.0 * at) for fly in plan.tries]
        clicks += [click + 200.0 * at for click in plan.clicks]
    return Plan(tries, clicks=clicks, settings={"start": "land"})


@pytest.mark.parametrize(
    ("good", "passed", "said"),
    [
        ((1, 0, 1), True, "2 of 3 sets"),
        ((0, 1, 1, 0), True, "2 of 3 sets"),
        ((1, 1), True, "2 of 2 sets"),
        ((1, 0, 0, 1), False, "1 of 3 sets"),
        ((1, 0, 0, 0, 0, 0, 0, 0, 0, 1), False, "1 of 3 sets"),
    ],
)
def test_the_beat_on_land_takes_two_of_three_sets_in_a_row(good, passed, said):
    found = rungs(sets_of(*good))["land_beat"]
    assert found.passed is passed and said in tell(found.said)


def test_a_squat_left_out_does_not_make_a_set_uneven_and_a_walk_between_sets_is_none():
    plan = squats(2, count=70)
    tries = []
    for fly in plan.tries:
        gaps = list(fly.periods)
        tries.append(replace(fly, periods=[*gaps[:30], gaps[30] + gaps[31], *gaps[32:]]))
        tries += [Fly(fly.start + 70.0 + 20.0 * k, [0.5] * 8, started_by="unknown") for k in range(2)]  # no click in it
    found = rungs(replace(plan, tries=tries))["land_beat"]
    assert found.passed and "2 of 2 sets" in tell(found.said)


def test_land_and_water_do_not_mix():
    assert tell(rungs(squats(2))["seconds_10"].missing) == "On the water only."
    assert tell(rungs(Plan(seconds(11)))["land_beat"].missing) == "On land only."


# ---- the ladder as a whole ----


def test_the_best_of_several_outings_and_what_comes_next():
    one, two = score(look(make(Plan(seconds(11, 11, 11))), table())), score(look(make(Plan(seconds(62, 47))), table()))
    best = {r.key: r for r in merge([one, two])}
    assert best["seconds_10"].passed and best["seconds_60"].passed and not best["minutes_2"].passed
    assert next_rung([best[r.key] for r in RUNGS]).key == "there_and_back"
    assert next_rung([attrs.evolve(r, passed=True) for r in one]) is None


def test_words_of_every_rung():
    assert len({r.key for r in RUNGS}) == len({tell(r.name) for r in RUNGS}) == 16
    assert all(r.why and r.practise and r.passes for r in RUNGS)


def test_what_an_outing_could_not_have_scored_never_hides_what_another_said():
    land, water = score(look(make(squats(1)), None)), score(look(make(Plan(seconds(11))), table()))
    for order in ((land, water), (water, land)):
        best = {r.key: r for r in merge(order)}
        assert tell(best["rope_level"].missing) == "Only in an armed rope drill."
        assert best["land_beat"].best is not None and best["seconds_10"].best is not None
