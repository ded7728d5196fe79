"""Every figure a review gives: its name in files, its name for people, its unit, its definition. One table: the report
prints it, the docs hold it, and a test holds both to it."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

import attrs


@attrs.frozen
class Definition:
    name: str
    title: str
    unit: str
    says: str


_TABLE = """\
pumping_s | pumping | s | First onset to the end of the last pump's period.
coast_s | coasting | s | Aloft without pumping after the last pump.
aloft_s | aloft | s | Pumping and coasting together.
rope_s | on the rope | s | From the first sign of flying to the first onset; a whole flight in a rope drill.
own_s | on your own | s | Aloft from rope, dock, beach or step; nothing of a rope drill, nor what swell or wake carried.
pumps | pumps | 1 | Onsets of the flight, the last one without a next onset too.
landing_to_push_s | landing to push | s | From the first touch of the landing on the board to the first onset.
first_periods_s | first pumps | s | The first three periods.
cadence_hz | cadence | Hz | 1 / median period from onset to onset; shown as pumps per minute.
cadence_early_hz | cadence early | Hz | 1 / median period of pumps 4 to 11, from 18 pumps on.
cadence_late_hz | cadence late | Hz | 1 / median period of the last 8 before the final 2, from 18 pumps on.
push_share | push share | 1 | Median over the pumps of push time / period; push: vertical force above 1 g.
parts | four parts | 1, s | Catch (onset to peak), shove (to push end), ease (to the middle of the low half of the
    glide), gather (to the next onset): medians as share of the pump and in s; spread: interquartile range.
rise_s | rise time | s | Median time from onset to peak (the catch in seconds).
peak_g | peak | g | Median highest vertical force of a push.
lightness_g | lightness | g | Median lowest vertical force of a glide.
size_g | size | g | Median amplitude of the once-per-pump part of the vertical force; shown as % of weight.
size_needed_g | size needed | g | Estimate: least size that carries level flight at that cadence and speed (cruise
    speed where none is known); least size at the target x sqrt(cadence / target).
size_ratio | size against needed | 1 | size / size needed.
size_early_g | size early | g | Median size of the first 8 pumps, from 18 pumps on.
travel_m | travel | m | Median vertical travel of the body in a pump, peak to peak; not the heave of the foil.
steadiness | steadiness | 1 | Coefficient of variation of the periods from onset to onset: standard deviation (n - 1) /
    mean. Not counted: what closes the last pump, as it is no pump, and a period over 1.6 times the median, as it is a
    rest or holds a pump that was not heard.
rmssd_s | beat to beat | s | Root mean square of the differences between neighbouring periods of these.
lag1 | carry-over | 1 | Autocorrelation of these periods at lag one, from 8 pumps on; under -0.3 the rider mends each
    pump by the next.
fade_cadence | fade of cadence | 1/min per min | Theil-Sen slope of cadence on time with Sen's 95 % interval, from 18
    pumps on.
fade_size | fade of size | g per min | The same of size.
fade_share | fade of push share | 1 per min | The same of push share.
speed_m_s | speed | m/s | Median of the good fixes later than 2.5 s, from 5 fixes on; over ground: current and wind
    shift what the foil feels.
distance_m | distance | m | Integral of speed over the pumping, where fixes cover 80 % of it.
m_per_pump | metres per pump | m | distance / pumps, from 8 pumps on.
in_band | time in band | 1 | Share of the pumping time in which the mean cadence of the last 5 pumps lay in the band,
    periods over 1.6 times the median left out; above and below likewise.
lock | lock to the click | 1 | Length of the mean phase vector of the onsets against the nearest click (1: always the
    same place), with its angle, Rayleigh's and the V test.
power_w | estimated power | W | Leg power = speed x mean drag for this profile, speed, cadence and size; +-30 %.
last | last ten pumps | as above | Median of the last ten minus median of the pumps before, from 20 pumps on.
ended_by | ended by | - | fall, touch_down, coast_out, gap, end_of_data or unknown; looked at again with the 7 s that
    follow, and correctable.
helped | helped | - | Carried by swell or wake: said by a person, or coasting for 6 s and more, or size under 0.6 of
    needed while the speed holds.
tries, flights, held | starts | 1 | Tries by start kind; those with 3 pumps; those with 5.
sets, rests_s | sets and rests | s | Tries less than 4 min apart; pauses between tries.
legs_went_s | legs went | s | End of the first try, from the fourth on, at which the last three tries fell under 60 % of
    the best three in pumps, these being six or more in the mean, and so did that try itself; tries that a gap cut left
    out.
followed | cue followed | - | The median of the next 6 pumps moved the asked way by 2 % against the 5 before.
"""
"""One figure a line, continued on indented ones."""

DEFINITIONS: tuple[Definition, ...] = tuple(
    Definition(*(part.strip() for part in line.split("|"))) for line in re.sub(r"\n +", " ", _TABLE).splitlines()
)


@cache
def definitions(lang: str = "en") -> tuple[Definition, ...]:
    """The table in a language: titles and sayings of `texts/definitions_LANG.txt`, one figure a line."""
    if lang == "en":
        return DEFINITIONS
    text = (files("cadence_coach.review") / "texts" / f"definitions_{lang}.txt").read_text(encoding="utf-8")
    said = {name: (title, says) for name, title, says in (line.split(" | ") for line in text.splitlines())}
    return tuple(Definition(d.name, said[d.name][0], d.unit, said[d.name][1]) for d in DEFINITIONS)
