"""Figures of a flight: on pumps of known shape, against NumPy and SciPy."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.stats

from cadence_coach.review.figures import look
from cadence_coach.review.pumps import needed_size
from cadence_coach.review.season_row import season_row
from cadence_coach.review.waveform import mean_waveform
from tests.review.build import Fly, Plan, fundamental, make, pump_g, steady, table


def one(**changes):
    fly = Fly(20.0, **{"periods": steady(100.0, 40, cv=0.03), **changes})
    return look(make(Plan([fly])), table())


def test_beat_figures_are_those_of_numpy_and_scipy():
    periods = steady(100.0, 40, cv=0.05, drift=-0.12)
    f = one(periods=periods).figures.flights[0]
    t = np.array(periods)
    assert f.cadence_hz == pytest.approx(1.0 / np.median(t[:-1]))  # onset to onset: 40 pumps, 39 periods
    assert f.cadence_early_hz == pytest.approx(1.0 / np.median(t[3:11]))  # pumps 4 to 11
    assert f.cadence_late_hz == pytest.approx(1.0 / np.median(t[30:38]))  # last 8 before the final 2
    assert f.drift == pytest.approx(np.median(t[3:11]) / np.median(t[30:38]) - 1.0)
    assert f.steadiness == pytest.approx(scipy.stats.variation(t[:-1], ddof=1))
    onset = (np.concatenate([[0.0], np.cumsum(t)[:-1]])) / 60.0
    judge = scipy.stats.theilslopes(60.0 / t, onset)
    assert f.fade_cadence == pytest.approx((judge.slope, judge.low_slope, judge.high_slope), rel=1e-6)
    assert f.first_periods_s == pytest.approx(t[:3])


@pytest.mark.parametrize("closing", [0.3, 1.4])
def test_what_closes_the_last_pump_is_no_unevenness(closing):
    """Four pumps, then a fall a moment too early or too late: three periods of one length."""
    f = one(periods=[0.6, 0.6, 0.6, closing]).figures.flights[0]
    assert f.steadiness == pytest.approx(0.0, abs=1e-9) and f.rmssd_s == pytest.approx(0.0, abs=1e-9)
    assert f.cadence_hz == pytest.approx(1.0 / 0.6) and f.pumps == 4


def test_a_pump_that_was_not_heard_and_a_rest_are_no_unevenness():
    """Two periods in one, and 1.5 s down a swell: left out of the figures of the beat and of the running mean; of the
    cadence they are medians' business."""
    beat = steady(100.0, 40, cv=0.03)
    periods = [*beat[:10], beat[10] + beat[11], *beat[12:25], 1.5, *beat[25:]]
    f = one(periods=periods).figures.flights[0]
    left = np.array([*beat[:10], *beat[12:-1]])
    assert f.steadiness == pytest.approx(scipy.stats.variation(left, ddof=1))
    assert f.rmssd_s == pytest.approx(np.sqrt(np.mean(np.diff(left) ** 2)))
    assert f.lag1 == pytest.approx(np.corrcoef(left[:-1], left[1:])[0, 1], abs=0.02)
    assert f.cadence_hz == pytest.approx(1.0 / np.median(periods[:-1]))
    assert f.pumps == 40 and f.in_band == 1.0


@pytest.mark.parametrize(("sooner", "joined"), [(0.15, True), (0.2, False)])
def test_a_pump_that_a_splash_closed_goes_on_until_the_push(sooner, joined):
    """The detector takes a splash back within 0.18 s (`cycles.SHORTEST`); the cycle before was closed by then."""
    outing = make(Plan([Fly(20.0, [0.6] * 10)]))
    outing.cycles[4] = replace(outing.cycles[4], time=outing.cycles[5].onset - sooner)
    pumps = look(outing, table()).pumps[0]
    assert pumps.period == pytest.approx([*[0.6] * 4, 0.6 if joined else 0.6 - sooner, *[0.6] * 5])


def test_bounces_that_the_detector_took_back_are_no_pumps():
    """Two bounces of a level glide among 20 pumps: the pump before them lasts until the next true onset, and neither
    count, cadence nor size know of them."""
    outing = make(Plan([Fly(20.0, [0.6] * 22, height=[0.8] * 10 + [0.2] * 2 + [0.8] * 10)]))
    outing.flights[0] = replace(outing.flights[0], pumps=20, skipped=(10, 11))
    found = look(outing, table())
    pumps, f = found.pumps[0], found.figures.flights[0]
    assert pumps.period == pytest.approx([*[0.6] * 9, 1.8, *[0.6] * 10])
    assert len(pumps) == f.pumps == 20 and pumps.size_g.min() == pytest.approx(pumps.size_g.max())
    assert f.cadence_hz == pytest.approx(1.0 / 0.6) and f.steadiness == pytest.approx(0.0, abs=1e-9)
    outing.flights[0] = replace(outing.flights[0], pumps=17, skipped=(7, 8, 10, 11, 13))
    assert look(outing, table()).figures.flights[0].drift is None, "17 pumps are too few for two cadences"


def test_a_bounce_without_a_next_onset_ends_nobodys_period():
    outing = make(Plan([Fly(20.0, [0.6] * 10)]))
    outing.cycles[5] = replace(outing.cycles[5], whole=False)
    outing.flights[0] = replace(outing.flights[0], pumps=9, skipped=(5,))
    assert look(outing, table()).pumps[0].onset == pytest.approx([20.0 + 0.6 * k for k in (0, 1, 2, 3, 6, 7, 8, 9)])


def test_a_rest_alone_in_its_window_is_its_cadence():
    """The first interval is a rest: nothing stands beside it yet."""
    pumps = one(periods=[1.2, *[0.6] * 9]).pumps[0]
    assert pumps.running_cadence == pytest.approx([1 / 1.2, *[1 / 0.6] * 9])
    assert len(pumps.rows(slice(0)).running_cadence) == 0


def test_four_parts_of_the_half_sine_pump_are_known():
    """Half-sine push over share d peaks in its middle, the glide is lowest in its own: d/2, d/2, (1-d)/2, (1-d)/2."""
    f = one(share=0.4).figures.flights[0]
    shares = [f.parts[name].share for name in ("catch", "shove", "ease", "gather")]
    assert shares == pytest.approx([0.2, 0.2, 0.3, 0.3], abs=1e-9)
    assert sum(shares) == pytest.approx(1.0)
    assert f.parts["catch"].seconds == pytest.approx(f.rise_s)
    assert f.push_share == pytest.approx(0.4)


def test_sinusoid_has_a_quarter_in_each_part():
    f = one(share=0.5).figures.flights[0]
    assert [p.share for p in f.parts.values()] == pytest.approx([0.25] * 4, abs=1e-9)


def test_one_figure_instead_of_two_under_eighteen_pumps():
    f = one(periods=steady(100.0, 17)).figures.flights[0]
    assert f.cadence_early_hz is None and f.drift is None and f.fade_cadence is None and f.size_early_g is None
    assert one(periods=steady(100.0, 18)).figures.flights[0].drift is not None


def test_band_time_is_weighted_by_time_and_its_parts_add_up():
    periods = [0.6] * 20 + [0.95] * 12  # 100 a minute inside 72 .. 114, then 63 a minute below
    f = one(periods=periods).figures.flights[0]
    running = [sum(periods[max(0, i - 4) : i + 1]) / len(periods[max(0, i - 4) : i + 1]) for i in range(32)]
    inside = sum(t for t, r in zip(periods, running, strict=True) if 1.2 <= 1.0 / r <= 1.9)
    assert f.in_band == pytest.approx(inside / sum(periods))
    assert f.in_band + f.below_band + f.above_band == pytest.approx(1.0)
    assert f.band_from == "cruise"


def test_size_needed_grows_with_the_root_of_the_cadence():
    """r_min = sqrt(4 P mu w / (m g^2)), equations 5 to 7 of the pumping model: four times the cadence, twice the
    size."""
    band = table(target=1.4, needed=0.6).at(None)
    assert needed_size(band, 1.4) == pytest.approx(0.6)
    assert needed_size(band, 5.6) == pytest.approx(1.2)


def test_size_against_needed():
    f = one(share=0.5, height=0.5, periods=[1.0 / 1.4] * 12).figures.flights[0]
    assert f.size_g == pytest.approx(0.5)
    assert f.size_ratio == pytest.approx(0.5 / 0.6)


def test_speed_and_metres_per_pump_only_where_fixes_allow():
    f = one(speed=4.5).figures.flights[0]
    assert f.speed_m_s == pytest.approx(4.5)
    assert f.distance_m == pytest.approx(4.5 * f.pumping_s, rel=1e-6)
    assert f.m_per_pump == pytest.approx(4.5 * f.pumping_s / 40)
    assert f.band_from == "speed"
    short = one(speed=4.5, periods=steady(100.0, 7)).figures.flights[0]
    assert short.m_per_pump is None and short.speed_m_s is None
    assert one().figures.flights[0].distance_m is None


def test_last_ten_pumps_against_those_before():
    heights = [0.9] * 20 + [0.6] * 10
    f = one(periods=[0.6] * 20 + [0.5] * 10, height=heights, share=0.5).figures.flights[0]
    assert f.last.cadence_per_min == pytest.approx(20.0)
    assert f.last.size_g == pytest.approx(-0.3)
    assert one(periods=steady(100.0, 19)).figures.flights[0].last is None


def test_time_on_the_rope_is_not_on_your_own():
    ordinary = look(make(Plan([Fly(20.0, steady(100.0, 12), started_by="rope", landing_to_push=8.0)])), table())
    f = ordinary.figures.flights[0]
    assert f.rope_s == pytest.approx(8.0)
    assert f.own_s == pytest.approx(f.aloft_s)
    drill = look(
        make(Plan([Fly(20.0, steady(100.0, 12), started_by="rope")], settings={"start": "rope_drill"})), table()
    )
    assert drill.figures.flights[0].own_s == 0.0
    assert drill.figures.rope == (0,)
    assert drill.figures.best is None


@pytest.mark.parametrize(
    ("fly", "helped"),
    [
        (Fly(20.0, steady(100.0, 12), coast=8.0), "long coast"),
        (Fly(20.0, steady(100.0, 30), height=0.3, speed=4.5), "small pumps at held speed"),
        (Fly(20.0, steady(100.0, 30), height=0.3, speed=4.5, speed_end=3.0), None),  # small, and it slowed down
        (Fly(20.0, steady(100.0, 30), height=0.3), None),  # small, and nobody knows the speed
        (Fly(20.0, steady(100.0, 12), coast=1.0), None),
    ],
)
def test_flights_that_something_else_carried(fly, helped):
    found = look(make(Plan([fly])), table()).figures
    assert found.flights[0].helped == helped
    assert found.helped == ((0,) if helped else ())
    assert found.best == (None if helped else 0)
    own = 0.0 if helped else found.flights[0].aloft_s  # what carried it is not one's own
    assert (found.flights[0].own_s, found.own_s, found.sets[0].own_s) == pytest.approx((own, own, own))
    assert found.aloft_s == pytest.approx(found.flights[0].aloft_s) and found.rope == ()


def test_seconds_on_your_own_of_a_flight_that_somebody_says_was_carried():
    """12 pumps of 0.6 s and 40: 7.2 s and 24 s; and a word that nothing did gives them back. In a rope drill it stays a
    drill."""
    tries = [Fly(20.0, [0.6] * 12), Fly(60.0, [0.6] * 40, coast=8.0)]
    for said, own in (({}, 7.2), ({"helped:1": "no"}, 7.2 + 32.0), ({"helped:0": "swell", "helped:1": "no"}, 32.0)):
        found = look(make(Plan(tries, tags=said)), table()).figures
        assert found.own_s == pytest.approx(own) and found.aloft_s == pytest.approx(7.2 + 32.0)
        assert season_row(make(Plan(tries, tags=said))).own_s == pytest.approx(own)
    drill = look(make(Plan(tries, tags={"helped:0": "swell"}, settings={"start": "rope_drill"})), table()).figures
    assert drill.rope == (0, 1) and [f.left_out for f in drill.flights] == ["drill", "drill"]


@pytest.mark.parametrize(("hole", "why"), [(0.4, None), (0.6, "holed")])
def test_a_hole_of_two_percent_leaves_a_flight_what_it_is(hole, why):
    """24 s: 0.48 s of them are 2 %."""
    plan = Plan([Fly(20.0, [0.6] * 40), Fly(60.0, [0.6] * 12)], gaps=[(30.0, 30.0 + hole)])
    found = look(make(plan), table()).figures
    assert found.flights[0].left_out == why
    assert found.best == (0 if why is None else 1) and found.best in [f.flight for f in found.counted]


def test_a_person_overrules_what_carried_it_and_how_it_ended():
    plan = Plan([Fly(20.0, steady(100.0, 12), coast=8.0)], tags={"helped:0": "no", "ended_by:0": "touch_down"})
    f = look(make(plan), table()).figures.flights[0]
    assert f.helped is None and f.on_own
    assert (f.ended_by, f.ended_by_from) == ("touch_down", "rider")


def test_a_person_overrules_how_it_began():
    """Its try began so, too, and what is counted by kind of start follows; what is no start changes nothing."""
    tries = [Fly(20.0, steady(100.0, 12)), Fly(80.0, steady(100.0, 12)), Fly(140.0, [0.6])]
    figures = look(make(Plan(tries, tags={"started_by:1": "step", "started_by:0": "luck"})), table()).figures
    assert [f.started_by for f in figures.flights] == ["run_up", "step"]
    assert {kind: s.tries for kind, s in figures.starts.items()} == {"run_up": 2, "step": 1}
    assert look(make(Plan(tries[:1], tags={"started_by:0": "rope"})), table()).figures.flights[0].started_by == "rope"


def test_mean_waveform_gives_back_the_pump_it_was_made_of():
    found = one(share=0.4, height=0.9, periods=[0.6] * 30)
    wave = mean_waveform(found.outing, found.pumps[0])
    expected = pump_g(wave.phase, 0.4, 0.9)
    inner = (wave.phase > 0.03) & (wave.phase < 0.97)
    assert np.abs(wave.mean_g - expected)[inner].max() < 0.03  # the 12 Hz smoothing at the corners
    assert wave.mean_g.mean() == pytest.approx(1.0, abs=0.01)  # momentum theorem: whole cycles average 1 g
    assert wave.marks == pytest.approx((0.2, 0.4, 0.7))
    assert (wave.low_g <= wave.high_g).all()


def test_mean_waveform_is_the_same_however_the_phone_is_turned_and_pitched():
    """A torso pitching 20 deg with each pump: with the gyroscope the vertical is that of the upright one."""
    plain = one(share=0.45, height=0.8, periods=[0.6] * 30)
    t = plain.outing.accel[:, 0]
    pitch = np.radians(20.0) * np.sin(2.0 * np.pi * t / 0.6)
    g = np.linalg.norm(plain.outing.accel[:, 1:], axis=1)
    accel = np.column_stack([t, g * np.sin(pitch), np.zeros_like(t), g * np.cos(pitch)])
    # force along world up, seen in a frame that turns about its y axis by `pitch`: up = (sin, 0, cos) there means the
    # frame turns by -pitch about y
    gyro = np.column_stack([t, np.zeros_like(t), -np.gradient(pitch, t), np.zeros_like(t)])
    import attrs

    turned = attrs.evolve(plain.outing, accel=accel, gyro=gyro)
    a, b = mean_waveform(plain.outing, plain.pumps[0]), mean_waveform(turned, plain.pumps[0])
    assert np.abs(a.mean_g - b.mean_g).max() < 0.02
    lost = mean_waveform(attrs.evolve(turned, gyro=None), plain.pumps[0])
    assert np.abs(a.mean_g - lost.mean_g).max() > 0.05  # without it the pitch is seen, so the test can fail


def test_fundamental_of_the_half_sine_pump():
    """h1 for d = .22, .30, .42: .418, .585, .837, computed independently from the Fourier integral."""
    for d, expected in ((0.22, 0.418), (0.30, 0.585), (0.42, 0.837)):
        phase = np.arange(20_000) / 20_000
        numeric = 2.0 * abs(np.mean((pump_g(phase, d, 1.0) - 1.0) * np.exp(-2j * math.pi * phase)))
        assert fundamental(d, 1.0) == pytest.approx(expected, abs=0.0005)
        assert numeric == pytest.approx(fundamental(d, 1.0), abs=1e-4)


def test_only_believed_fixes_count_and_only_near_ones():
    found = one(speed=4.5)
    import attrs

    fixes = found.outing.fixes.copy()
    fixes[:, 7] = 0.0
    assert look(attrs.evolve(found.outing, fixes=fixes), table()).figures.flights[0].speed_m_s is None
    last = float(found.track.t[-1])
    assert found.track.at(np.array([last + 1.9]))[0] == pytest.approx(4.5)
    assert np.isnan(found.track.at(np.array([last + 2.1]))[0])


def test_leg_power_is_that_of_the_pump_with_that_size():
    """Forward through the energy identity: a pump of known active force has a size and a power; back from the size."""
    from cadence_coach.foil.profile import demo_profile
    from cadence_coach.foil.pumping import Cycle
    from cadence_coach.review.gear import leg_power

    setup = demo_profile().setup
    for speed, cadence, active in ((4.5, 1.5, 0.6), (5.0, 1.4, 0.75), (4.2, 1.7, 0.55)):
        pump = Cycle(setup, speed, cadence).pump(active)
        assert leg_power(setup, speed, cadence, float(pump.size)) == pytest.approx(float(pump.power), rel=1e-6)
