"""The word after a flight: five figures to show, two or three to say, and at most one sentence. Pure: the same in,
the same out.

Said in this order, as long as it fits in six seconds; what matters least goes first:

    seconds | best today | pumps | under 8: starts held | the figure the focus is about | the sentence
       1          5          1              4                       3                          2

(the seconds over whole minutes go before all of these)

Sentences, the first rule that holds, the focus's own first, the same one at most every third flight:

    start    run-up or step, under 8 pumps, first push later than 0.8 s after landing in two of the last three tries
    size     6 pumps or more, under 0.85 of the size needed in two of the last three flights; quick, or not
    fade     18 pumps or more, late cadence below early by max(8 %, 2 CV, the drift left out); started hard, or not
    clean    none of these holds and steadiness is 5 % or better

The try or flight just ended must be one of the two of three: a sentence about something that just went well would
be wrong. Never a cause that the body cannot show (nose angle, ride height, foot pressure).
"""

from __future__ import annotations

from dataclasses import dataclass

from .rules import (
    CLEAN,
    FADE_CVS,
    FADE_LEAST,
    HARD_START,
    QUICK_CADENCE,
    QUICK_FACTOR,
    SHORT_FLIGHT,
    SIZE_PUMPS,
    TWO_CADENCES,
    WORD_LONGEST_S,
)

SENTENCES: dict[str, str] = {
    "push_at_once": "push as soon as both feet are down",
    "slow_use_leg": "quick and small, slow a little and use more leg",
    "push_deeper": "small pumps, push deeper, then get lighter",
    "start_easier": "you started too hard, begin easier",
    "rest_then_hold": "the beat slipped, rest longer, then hold it",
    "clean": "clean, same again",
}
WORDS: dict[str, str] = {
    "seconds": "seconds",
    "minutes": "minutes",
    "pumps": "pumps",
    "best_today": "best today",
    "of_the_last": "of the last",
    "starts_held": "starts held",
    "cadence": "cadence",
    "then": "then",
    "size": "size",
    "of": "of",
    "percent": "percent",
    "speed": "speed",
    "point": "point",
    "steady_within": "steady within",
    "first_push_after": "first push after",
}
NUMBERS = (*range(100), *range(100, 1000, 100), *range(1000, 10000, 1000))
"""Numbers with a recording of their own; the rest up to 9999 is put together from them."""
LARGEST = 9999


def every_part() -> dict[str, str | int]:
    """Every id that can ever be said, with its text or number."""
    return {**{f"n_{n}": n for n in NUMBERS}, **WORDS, **SENTENCES}


def number(n: float) -> tuple[str, ...]:
    """Ids for a whole number: 347 -> n_300 n_47. Rounded half up, kept within 0 to 9999."""
    rest = min(LARGEST, max(0, int(n + 0.5)))
    out = []
    for unit in (1000, 100):
        if rest >= unit:
            out.append(f"n_{rest - rest % unit}")
            rest %= unit
    if rest or not out:
        out.append(f"n_{rest}")
    return tuple(out)


def decimal(x: float) -> tuple[str, ...]:
    """Ids for a number with one decimal: 1.3 -> n_1 point n_3."""
    tenths = int(10.0 * x + 0.5)
    return (*number(tenths // 10), "point", f"n_{tenths % 10}")


def duration(seconds: float) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Whole seconds up to 99; from there minutes, and the seconds over them apart: these may be left unsaid."""
    whole = int(seconds + 0.5)
    if whole < 100:
        return (*number(whole), "seconds"), ()
    minutes, rest = divmod(whole, 60)
    return (*number(minutes), "minutes"), ((*number(rest), "seconds") if rest else ())


def count(pumps: int) -> tuple[str, ...]:
    """Pumps; a thousand and more to the nearest hundred, which is what an ear keeps."""
    return number(pumps if pumps < 1000 else 100 * int(pumps / 100 + 0.5))


def speech_seconds(spoken: tuple[str, ...]) -> float:
    """About how long the parts take [s]: 5 syllables a second and 0.1 s around each part (brisk recorded
    announcements; common practice, no source). The recordings themselves must not be longer."""
    return sum(0.2 * _syllables(part) + 0.1 for part in spoken)


@dataclass(frozen=True, slots=True)
class Flown:
    """A flight as the word needs it: s, Hz, g, m/s; None where not known (windows as in design rules of `tally`)."""

    flight: int
    seconds: float
    best_today: bool
    pumps: int
    started_by: str
    cadence: float
    early: float | None
    late: float | None
    size: float
    size_needed: float | None
    """At this flight's cadence and speed."""
    size_first: float | None
    """Median of the first eight pumps."""
    steadiness: float | None
    speed_early: float | None
    speed_late: float | None
    landing_to_push: float | None
    scatter: float | None = None
    """From one pump to the next, a drift left out: RMSSD / (sqrt 2 x period) at both ends of the flight."""


@dataclass(frozen=True, slots=True)
class Past:
    """What went before: starts held (how many, of how many), two-of-three verdicts, sentences said lately, own best
    cadence [Hz]."""

    starts_held: tuple[int, int]
    slow_starts: bool
    small_flights: bool
    worn: frozenset[str]
    own_best_cadence: float | None


@dataclass(frozen=True, slots=True)
class Word:
    figures: tuple[tuple[str, float | str | None], ...]
    spoken: tuple[str, ...]
    sentence: str | None


def word(flown: Flown, past: Past, focus: str | None) -> Word:
    """The word after this flight."""
    said = sentence(flown, past, focus)
    return Word(figures(flown, past), _spoken(flown, past, focus, said), said)


def figures(f: Flown, past: Past) -> tuple[tuple[str, float | str | None], ...]:
    """(name, value) in the order they are shown. Cadence per minute, size in % of the body weight, shares in %, s,
    m/s."""
    out: list[tuple[str, float | str | None]] = [
        ("seconds", f.seconds),
        ("best_today", float(f.best_today)),
        ("pumps", float(f.pumps)),
    ]
    if f.pumps < SHORT_FLIGHT and past.starts_held[1]:
        out += [("starts_held", float(past.starts_held[0])), ("starts_of", float(past.starts_held[1]))]
    if f.early is not None and f.late is not None:
        out += [("cadence_early_per_min", 60.0 * f.early), ("cadence_late_per_min", 60.0 * f.late)]
    else:
        out.append(("cadence_per_min", 60.0 * f.cadence))
    out.append(("size_percent", 100.0 * f.size))
    out.append(("size_needed_percent", None if f.size_needed is None else 100.0 * f.size_needed))
    if f.speed_early is not None and f.speed_late is not None:
        out += [("speed_early_m_s", f.speed_early), ("speed_late_m_s", f.speed_late)]
    elif f.steadiness is not None:
        out.append(("steadiness_percent", 100.0 * f.steadiness))
    else:
        out.append(("landing_to_push_s", f.landing_to_push))
    return tuple(out)


# ---- the sentence ----


def sentence(f: Flown, past: Past, focus: str | None) -> str | None:
    """The id of the sentence, or None for the numbers alone."""
    rules = {"start": _start, "size": _size, "fade": _fade}
    order = sorted(rules, key=lambda family: family != focus)  # stable: the focus first, the rest as it stands
    holds = [found for family in order if (found := rules[family](f, past)) is not None]
    if not holds and f.steadiness is not None and f.steadiness <= CLEAN:
        holds = ["clean"]
    return next((s for s in holds if s not in past.worn), None)


def _start(f: Flown, past: Past) -> str | None:
    short = f.started_by in ("run_up", "step") and f.pumps < SHORT_FLIGHT
    return "push_at_once" if short and past.slow_starts else None


def _size(f: Flown, past: Past) -> str | None:
    if f.pumps < SIZE_PUMPS or not past.small_flights:
        return None
    own = past.own_best_cadence
    quick = f.cadence > QUICK_CADENCE or (own is not None and f.cadence > QUICK_FACTOR * own)
    return "slow_use_leg" if quick else "push_deeper"


def _fade(f: Flown, past: Past) -> str | None:
    if f.pumps < TWO_CADENCES or f.early is None or f.late is None:
        return None
    scatter = min((x for x in (f.steadiness, f.scatter) if x is not None), default=0.0)  # the CV holds the fade itself
    if f.late > f.early * (1.0 - max(FADE_LEAST, FADE_CVS * scatter)):
        return None
    hard = f.size_first is not None and f.size_first > HARD_START * f.size
    return "start_easier" if hard else "rest_then_hold"


# ---- what is said ----


def _spoken(f: Flown, past: Past, focus: str | None, said: str | None) -> tuple[str, ...]:
    held, of = past.starts_held
    whole, over = duration(f.seconds)
    starts = (*number(held), "of_the_last", *number(of), "starts_held") if f.pumps < SHORT_FLIGHT and of else ()
    parts: list[tuple[int, tuple[str, ...]]] = [
        (1, whole),
        (6, over),
        (5, ("best_today",) if f.best_today else ()),
        (1, (*count(f.pumps), "pumps")),
        (4, starts),
        (3, _focus_figure(f, focus)),
        (2, (said,) if said is not None else ()),
    ]
    while True:
        spoken = tuple(i for _, ids in parts for i in ids)
        if speech_seconds(spoken) <= WORD_LONGEST_S:
            return spoken
        least = max(rank for rank, ids in parts if ids)
        parts = [(rank, ids) for rank, ids in parts if rank != least]


def _focus_figure(f: Flown, focus: str | None) -> tuple[str, ...]:
    if focus in ("cadence", "fade"):
        if f.early is not None and f.late is not None:
            return ("cadence", *number(60.0 * f.early), "then", *number(60.0 * f.late))
        return ("cadence", *number(60.0 * f.cadence))
    if focus == "size":
        needed = ("of", *number(100.0 * f.size_needed)) if f.size_needed is not None else ()
        return ("size", *number(100.0 * f.size), *needed, "percent")
    if focus == "speed" and f.speed_early is not None and f.speed_late is not None:
        return ("speed", *decimal(f.speed_early), "then", *decimal(f.speed_late))
    if focus in ("steadiness", "timing") and f.steadiness is not None:
        return ("steady_within", *number(100.0 * f.steadiness), "percent")
    if focus == "start" and f.landing_to_push is not None:
        return ("first_push_after", *decimal(f.landing_to_push), "seconds")
    return ()


_SMALL = (2, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1, 3, 1, 2, 2, 2, 2, 3, 2, 2)  # syllables of zero to nineteen in English


def _syllables(part: str) -> int:
    if part.startswith("n_"):
        n = int(part[2:])
        if n < 20:
            return _SMALL[n]
        if n < 100:
            return (3 if n // 10 == 7 else 2) + (_SMALL[n % 10] if n % 10 else 0)
        return 3 if n != 700 and n != 7000 else 4
    text = SENTENCES.get(part) or WORDS[part]
    return sum(_vowel_groups(w) for w in text.replace(",", "").split()) + text.count(",")  # a comma is a short breath


def _vowel_groups(text: str) -> int:
    """Syllables of an English word, near enough for a time."""
    groups = sum(c in "aeiouy" and (i == 0 or text[i - 1] not in "aeiouy") for i, c in enumerate(text))
    silent = text.endswith("e") and not text.endswith("le") and groups > 1
    return max(1, groups - silent)
