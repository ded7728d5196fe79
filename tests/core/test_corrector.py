"""What holds at this speed, where the click leads, when the band leans, and what keeps a correction from being said."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from cadence_coach.core.corrector import Corrector
from cadence_coach.core.cuebook import CUE_KINDS, FIRST, GUARD, LATER, MACHINE, RANK, SOON, STATE
from cadence_coach.core.events import Cue, CycleDone, FlightEnded, Held, SpeedFix
from cadence_coach.core.settings import Settings
from cadence_coach.core.targets import BandTable
from cadence_coach.core.turns import Turns
from tests.core.riders import HI, LO, TARGET, table

WIDE = replace(table().bands[1], speed=6.0, target=1.60, lo=1.30, hi=1.90, size_needed=0.8, share=0.45)
SLOPE = BandTable((replace(WIDE, speed=4.0, target=1.20, lo=1.10, hi=1.30, size_needed=0.4, share=0.55), WIDE), 5.0)
"""Target, size needed and share change with speed; at the cruise speed of 5 m/s: 1.40 Hz, 0.6 g, 0.50."""


def corrector(chosen: Settings | None = None, band: BandTable | None = SLOPE) -> Corrector:
    made = Corrector(chosen or Settings(), band, Turns())
    made.start(0.0, "")
    return made


def fix(at: float, speed: float) -> SpeedFix:
    return SpeedFix(at, at, speed, None, None, 0.4, None)


def with_speed(speed: float, chosen: Settings | None = None, band: BandTable | None = SLOPE) -> Corrector:
    made = corrector(chosen, band)
    for k in range(3):
        made.fix(fix(0.1 * k, speed), True)
    return made


# ---- what holds ----


def test_speed_is_the_median_of_three_fresh_fixes_or_more() -> None:
    c = corrector()
    for at, speed in ((0.0, 4.0), (1.0, 9.0)):
        c.fix(fix(at, speed), True)
    assert c.speed(1.0) is None
    c.fix(fix(2.0, 4.5), True)
    assert c.speed(2.0) == 4.5
    assert c.speed(6.0) == 4.5, "six seconds old is still fresh"
    assert c.speed(6.0 + 1e-9) is None
    for at in (3.0, 4.0, 5.0):
        c.fix(fix(at, 5.0), True)
    assert c.speed(5.0) == 5.0, "the last five"


def test_size_needed_goes_with_the_root_of_the_cadence() -> None:
    """0.6 g at 1.40 Hz; 1.44 times the cadence: 1.2 times the size."""
    c = corrector()
    assert c.needed(None, 1.40) == pytest.approx(0.6)
    assert c.needed(None, 1.44 * 1.40) == pytest.approx(0.72)
    assert c.needed(6.0, 1.60) == pytest.approx(0.8)
    assert c.needed(None, 0.0) is None and c.needed(None, math.nan) is None
    assert corrector(band=None).needed(None, 1.4) is None
    assert Corrector(Settings(), table(), Turns()).needed(3.1, 1.4) is None, "nobody pumps there"


@pytest.mark.parametrize(
    "how, leads, share",
    [
        ({}, None, 0.5),
        ({"lead": "target"}, 1.60, 0.45),
        ({"lead": "own_best", "own_best_cadence": 1.33}, 1.33, 0.5),
        ({"lead": "own_best"}, None, 0.5),
        ({"start": "land"}, None, 0.45),
        ({"start": "land", "lead": "target"}, 1.60, 0.45),
    ],
)
def test_where_the_click_leads(how: dict[str, object], leads: float | None, share: float) -> None:
    """At 6 m/s: the band's target where that was chosen, else the rider's own; on land the share is the band's."""
    c = with_speed(6.0, Settings(**how))  # type: ignore[arg-type]
    assert c.lead(0.2) == (leads if leads is None else pytest.approx(leads), pytest.approx(share))
    bare = corrector(Settings(**how), None)  # type: ignore[arg-type]
    assert bare.lead(0.0) == (how.get("own_best_cadence"), 0.5)


def test_speed_first_is_not_said_to_whom_the_model_gives_no_speed_at_all() -> None:
    """More speed would not help, and the model is an estimate: the rider does pump."""
    nowhere = BandTable(tuple(replace(table().bands[0], speed=v, reason="force") for v in (1.5, 9.0)), 4.5)
    for band, said in ((table(), True), (nowhere, False)):
        c = corrector(band=band)
        for k in range(12):
            c.fix(fix(float(k), 2.9), True)
        assert (c._speed_first(11.5) is not None) == said


def test_the_own_best_leads_no_further_than_the_band() -> None:
    """Else the click would pull one way and the cue the other."""
    for own, edge in ((0.9, "lo"), (2.4, "hi")):
        c = with_speed(6.0, Settings(lead="own_best", own_best_cadence=own))
        assert c.table is not None
        assert c.lead(0.2)[0] == getattr(c.table.at(6.0), edge) != own


def flight(pumps: int, cadence: float = 1.26, steadiness: float = 0.03) -> FlightEnded:
    return FlightEnded(60.0, 62.0, 0, 1.0, pumps - 1, pumps, cadence, 0.45, 0.6, steadiness, "run_up", "fall", 0.0)


def test_the_band_leans_on_the_longest_steady_flight_of_30_pumps() -> None:
    c = corrector()

    def q() -> float | None:
        assert c.table is not None
        return c.table.q

    c.lean(flight(29), None)
    c.lean(flight(40, steadiness=0.0601), None)
    assert q() is None
    c.lean(flight(30, steadiness=0.06), None)
    assert q() == pytest.approx(1.26 / 1.40)
    c.lean(flight(30, 1.54), None)
    assert q() == pytest.approx(0.9), "not longer"
    c.lean(flight(31, 1.76), 6.0)
    assert q() == pytest.approx(1.1), "at 6 m/s the model's target is 1.60 Hz"


def test_a_band_that_came_with_the_riders_best_flights_stands() -> None:
    c = corrector(band=replace(SLOPE, q=1.05))
    c.lean(flight(80), None)
    assert c.table is not None and c.table.q == 1.05
    corrector(band=None).lean(flight(80), None)


# ---- what keeps it from being said ----


def pump(at: float, cadence: float, size: float = 0.6) -> CycleDone:
    period = 1.0 / cadence
    peak = at + 0.25 * period
    return CycleDone(
        at + period, at + period, 0, at, peak, peak + 0.24 * period, at + 0.7 * period, 1.8, 0.28, size, 0.2
    )


def fly(c: Corrector, n: int, cadence: float, size: float = 0.6, *, since: float = 0.0, blow: bool = False) -> float:
    """n pumps, a look after each; returns the time."""
    t = since
    for _ in range(n):
        p = pump(t, cadence, size)
        t = c._turns.now = p.known
        if c.take(p):
            c.look(p, blow)
    return t


def out(c: Corrector) -> list[tuple[type, str, str]]:
    """(Cue or Held, kind, why) in order; the figures behind the why are cut off."""
    found = [(type(e), e.kind, e.reason.split(";")[0]) for e in c._turns.out if isinstance(e, Cue | Held)]
    c._turns.out.clear()
    return found


def test_said_at_the_tenth_pump_and_held_from_then_on() -> None:
    """4 settle, 5 make a window, two looks agree."""
    c = corrector(band=table())
    fly(c, 9, LO * 0.9)
    assert out(c) == []
    fly(c, 1, LO * 0.9)
    assert [x[:2] for x in out(c)] == [(Cue, "quicker")]
    fly(c, 5, LO * 0.9)
    assert out(c) == [(Held, "quicker", "within 10 pumps of the last correction")]


@pytest.mark.parametrize(
    "why",
    [
        "the rope is in hand",
        "1.9 m/s: too slow to be aloft",
        "muted",
        "silence after a fall or a gap",
        "another message is sounding or waiting",
    ],
)
def test_each_thing_that_speaks_against_it(why: str) -> None:
    c = corrector(Settings(muted=why == "muted"), table())
    if why == "the rope is in hand":
        c.start(0.0, why)
    if why.startswith("1.9"):
        c = with_speed(1.9, band=None)
    if why.startswith("silence"):
        c._turns.quiet_until = 1e9
    if why.startswith("another"):
        c._turns.busy_until = 1e9
    uneven = [LO * 0.9] * 10 if not why.startswith("1.9") else [1.2, 1.8] * 8
    t = 0.0
    for cadence in uneven:
        if why.startswith("1.9"):
            c.fix(fix(t, 1.9), True)
        t = fly(c, 1, cadence, since=t)
    kind = "quicker" if not why.startswith("1.9") else "even_out"
    said = out(c)
    assert said and {(e, k, w) for e, k, w in said} == {(Held, kind, why)}


def test_a_blow_and_a_waiting_call_hold_it_too() -> None:
    c = corrector(band=table())
    fly(c, 10, LO * 0.9, blow=True)
    assert out(c) == [(Held, "quicker", "silence after a fall or a gap")]
    c = corrector(band=table())
    c._turns.word_owed = True
    c._turns.call("milestone", "best today")
    fly(c, 10, LO * 0.9)
    assert out(c) == [(Held, "quicker", "another message is sounding or waiting")]


def test_one_thing_at_a_time_the_first_of_the_book_and_only_the_focus() -> None:
    """Too slow and too small: quicker goes first; with the focus on size it is bigger alone."""
    c = corrector(band=table())
    fly(c, 10, LO * 0.9, 0.3)
    reason = f"cadence {60 * LO * 0.9:.1f} a minute, under {60 * LO:.1f} (mean of 5)"
    assert out(c) == [(Cue, "quicker", reason), (Held, "bigger", "one message at a time, quicker first")]
    c = corrector(Settings(focus="size"), table())
    fly(c, 10, LO * 0.9, 0.3)
    said = out(c)
    assert said[0] == (Held, "quicker", "the focus is size") and said[1][:2] == (Cue, "bigger")


def test_basic_leaves_the_fine_things_alone() -> None:
    for level, kinds in (("full", {"even_out"}), ("basic", set())):
        c = corrector(Settings(level=level), table())
        t = 0.0
        for k in range(18):
            t = fly(c, 1, TARGET * (1.2 if k % 2 else 0.85), since=t)
        assert {k for _, k, _ in out(c)} == kinds


def test_since_when_in_band() -> None:
    c = corrector(band=table())
    t = fly(c, 8, TARGET)
    assert c.in_band_since is None
    ninth = fly(c, 1, TARGET, since=t)
    assert c.in_band_since == ninth
    t = fly(c, 8, TARGET, since=ninth)
    assert c.in_band_since == ninth, "it stays the time it began"
    fly(c, 12, HI * 1.2, since=t)
    assert c.in_band_since is None
    c = corrector(band=None)
    fly(c, 12, TARGET)
    assert c.in_band_since is None, "no band to be in"
    c = with_speed(3.1, band=table())
    fly(c, 8, TARGET)
    assert c.in_band_since is None, "no target at this speed"


# ---- the book ----


def test_who_goes_first() -> None:
    """As designed: faults and answers wait for nothing, what guards a person for what sounds, the rest for the word
    too. Each kind has its one place."""
    assert FIRST < SOON < LATER
    assert {k for k, r in RANK.items() if r == FIRST} == {*MACHINE, *STATE}
    assert {k for k, r in RANK.items() if r == SOON} == {"turn_back", "time_limit", "all_right"}
    assert {k for k, r in RANK.items() if r == LATER} == {"legs_gone", "rest_over", "milestone"}
    assert set(RANK) == {*GUARD, *MACHINE, *STATE}
    assert len(set(CUE_KINDS)) == len(CUE_KINDS)
