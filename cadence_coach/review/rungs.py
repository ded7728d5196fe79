"""The practice ladder in words: from dry land to half an hour. What each rung is for, how to practise it, what passes.

The rules themselves are in `ladder.py`; the values here are only said. All of it is practice advice: local rules and
qualified instruction come first.
"""

from __future__ import annotations

import attrs


@attrs.frozen
class Rung:
    """`key` is the name in files; the rest is for people. `rope`: only in an armed rope drill that a helper or coach
    confirmed, since a passenger in the boat would pass otherwise."""

    key: str
    name: str
    why: str
    practise: str
    passes: str
    rope: bool = False
    land: bool = False


def _long(minutes: int, why: str, practise: str) -> Rung:
    rule = f"{minutes} minutes aloft in one go, at most a tenth of them coasting."
    return Rung(f"minutes_{minutes}", f"{minutes} minutes", why, practise, rule)


RUNGS: tuple[Rung, ...] = (
    Rung(
        "land_beat",
        "The beat on land",
        "On the water there is no time to look for the beat. It has to be in the legs before.",
        "Squats to the click, 60 at 90 a minute, push and let go in one flow. Level ground, warmed up, two minutes "
        "between sets.",
        "60 squats at 90 a minute with a lock of 0.95 and 4 % from one to the next, in two of three sets.",
        land=True,
    ),
    Rung(
        "rope_level",
        "Level on the rope",
        "A board that stays level when nobody pumps is a board that pumping can move.",
        "Stand still behind the boat and let it fly; look far ahead, weight between the feet.",
        "Ten quiet seconds, twice: up and down under 0.10 g, nothing over 0.4 g, tilt within 10 degrees. Confirmed.",
        rope=True,
    ),
    Rung(
        "rope_pump",
        "Up and down on the rope",
        "The rope keeps you aloft, so that the four parts of a pump can be learnt one after the other.",
        "Let the board rise and sink by a hand's width, ten times in a row; first slow, then at your beat.",
        "Ten whole pumps of 0.5 to 1 s, 10 % from one to the next, 6 cm of travel, each part 12 to 40 %. Confirmed.",
        rope=True,
    ),
    Rung(
        "rope_faster",
        "Faster than the rope",
        "When pumping makes the rope go slack, it carries you.",
        "Pump until the rope hangs, hold three seconds, let it come tight again.",
        "Eight pumps, and 0.4 m/s faster than in the five seconds before, held for three. Confirmed.",
        rope=True,
    ),
    Rung(
        "own_start",
        "Your own start",
        "Every flight is bought with a start. A start that holds saves the legs for the flight.",
        "Few steps, land soft with both feet, push at once. Stop after five pumps and go again.",
        "Three of five tries in a row reach five pumps, with 0.8 s or less from landing to the first push.",
    ),
    Rung(
        "ten_pumps",
        "On your own",
        "After ten pumps the start is used up: what carries you now is yours.",
        "From rope or dock, count ten pumps aloud. The last three as big as the first.",
        "Ten pumps from release or dock, none 1.5 times longer than the beat, pumps 8 to 10 at least 0.8 of 3 to 5. "
        "Three in an outing.",
    ),
    Rung(
        "seconds_10",
        "10 seconds",
        "Long enough to feel a beat.",
        "Let the third pump set the beat and keep it.",
        "10 s, three in an outing.",
    ),
    Rung(
        "seconds_30",
        "30 seconds",
        "Now rhythm saves more than strength.",
        "Start softer than you want to. Same beat at the end as at the start.",
        "30 s, two in an outing, cadence drifting by 10 % or less.",
    ),
    Rung(
        "seconds_60",
        "60 seconds",
        "A minute shows whether the pump costs more than it gives.",
        "Full rest of five minutes before each try. One try for a minute, one for 45 s.",
        "60 s once, and a second flight of 45 s or more the same day.",
    ),
    Rung(
        "there_and_back",
        "There and back",
        "Coming home dry is freedom, and it needs a turn.",
        "Turn wide and early, a little faster in than out; keep pumping through it.",
        "30 s aloft, a turn of 150 degrees held, ending within 20 m of the start. Twice.",
    ),
    _long(
        2,
        "The sprint is over: from here on you live on what your legs can do all day.",
        "A foil with less drag helps as much as training.",
    ),
    _long(3, "Breathing becomes part of the beat.", "Out-breath with the push, one pace for the whole flight."),
    _long(
        5, "Small leaks of force add up now.", "Look at the lightest pump that still holds your speed, and stay there."
    ),
    _long(10, "Ten minutes is a crossing.", "Eat, drink, and tell somebody on shore."),
    _long(20, "Patience.", "The same speed for the whole flight; nothing above it."),
    _long(30, "Half an hour on your own legs.", "One long flight a week, everything else easy."),
)

RUNG = {rung.key: rung for rung in RUNGS}
