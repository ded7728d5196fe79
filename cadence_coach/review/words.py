"""Figures as words in a language, the same in report, terminal, app and pasted text. Unknown is a dash, never a blank
or a zero."""

from __future__ import annotations

import re
from typing import Any

from cadence_coach.review.advising import Advice
from cadence_coach.review.figures import OutingFigures
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.say import Said, known, signed, span, table, tell
from cadence_coach.store import dates

NONE = "–"


class Words:
    """All words of a review in one language. Called with a key and values it gives a text of `texts/`."""

    def __init__(self, lang: str = "en") -> None:
        self.lang = known(lang)

    def __call__(self, key: str, **values: Any) -> str:
        return tell(Said(key, values), self.lang)

    def tell(self, said: Any) -> str:
        """A text, or several, of a figure, an advice, a rung."""
        return tell(said, self.lang)

    # ---- numbers ----

    def point(self, text: str) -> str:
        """A number that was written with a point, as the language writes it."""
        return text.replace(".", ",") if self.lang == "de" else text

    def number(self, value: float | None, digits: int = 0, unit: str = "") -> str:
        return NONE if value is None else self.point(signed(f"{value:.{digits}f}")) + (unit and f" {unit}")

    def percent(self, value: float | None, digits: int = 0) -> str:
        return self.number(None if value is None else 100.0 * value, digits, "%")

    @staticmethod
    def span(seconds: float) -> str:
        return span(seconds)

    def per_minute(self, hz: float | None) -> str:
        return self.number(None if hz is None else 60.0 * hz, 0)

    def course(self, f: FlightFigures) -> str:
        """Cadence early to late, one figure where there is only one: "98 → 91"."""
        if f.cadence_early_hz is None or f.cadence_late_hz is None:
            return self.per_minute(f.cadence_hz)
        return f"{self.per_minute(f.cadence_early_hz)} → {self.per_minute(f.cadence_late_hz)}"

    def size(self, f: FlightFigures) -> str:
        """Size of what is needed, where that is known, else of the weight."""
        if f.size_ratio is not None:
            return self("of_needed", n=self.percent(f.size_ratio))
        return self("of_weight", n=self.percent(f.size_g))

    # ---- dates ----

    def when(self, start_utc: str | None, form: str = "date") -> str:
        """13 June 2026, 09:00 UTC; forms: date, day_only, day_short, time_only."""
        at = dates.when(start_utc)
        if at is None:
            return self("date_unknown")
        names = table()["months_short" if form == "day_short" else "months"][self.lang].split()
        return self(form, day=at.day, month=names[at.month - 1], year=at.year, hour=at.hour, minute=at.minute)

    # ---- names ----

    def started(self, kind: str) -> str:
        return self(f"started_{kind}")

    def ended(self, kind: str) -> str:
        return self(f"ended_{kind}")

    def cue(self, kind: str) -> str:
        return self(f"cue_{kind}") if f"cue_{kind}" in table() else kind.replace("_", " ")

    def helped(self, by: str) -> str:
        key = f"helped_{by.replace(' ', '_')}"
        return self(key) if key in table() else by

    def tags(self, f: FlightFigures, best: bool) -> list[str]:
        """Whether a flight is the best, or why it does not count."""
        key = "tag_best" if best else f.left_out and f"tag_{f.left_out}"
        return [self(key)] if key else []

    def fault(self, kind: str) -> str:
        return self(f"fault_{kind}") if f"fault_{kind}" in table() else kind.replace("_", " ")

    def water(self, kind: str) -> str:
        return self(f"water_{kind}") if f"water_{kind}" in table() else self("water_other", kind=kind)

    def kit(self, figures: OutingFigures) -> str:
        water = self.water(figures.water) if figures.water else ""
        return " · ".join(part for part in (figures.rider, figures.foil, water) if part)

    def title(self, figures: OutingFigures, short: bool = False) -> str:
        """On the water (or on land), when."""
        where = "on_land" if figures.on_land else "on_the_water"
        return self(where, when=self.when(figures.start_utc, "day_only" if short else "date"))


def held_together(text: str) -> str:
    """A number and its unit stay on one line."""
    return re.sub(r"(?<=\d) (?=(?:%|s|g|W|m|cm|ms|min|m/s|kJ|h)(?![\w/]))", "\u00a0", text)


def plain_text(figures: OutingFigures, advice: Advice, w: Words) -> str:
    """The outing as a few lines to paste into a message."""
    kit = w.kit(figures)
    lines = [w.title(figures) + (f" ({kit})" if kit else "")]
    tries = sum(s.tries for s in figures.starts.values())
    own = w.span(figures.own_s)
    if not figures.on_land:
        lines.append(w("tries_message", tries=tries, flights=len(figures.flights), pumps=figures.pumps, own=own))
    if figures.best is not None:
        best = figures.flights[figures.best]
        own, end = w.span(best.own_s), w.ended(best.ended_by)
        lines.append(w("best_message", own=own, pumps=best.pumps, course=w.course(best), end=end))
    lines.append(w.tell(advice.says) if figures.on_land else w("work_on", says=advice.says))
    lines += [f"- {w.tell(line)}" for line in advice.why]
    return "\n".join(lines) + "\n"
