"""The rungs of the practice ladder, from dry land to half an hour; their words are in `texts/ladder.toml`.

The rules themselves are in `ladder.py`; the values in the texts are only said. All of it is practice advice: local
rules and qualified instruction come first.
"""

from __future__ import annotations

import attrs

from cadence_coach.review.say import Said, say, table


@attrs.frozen
class Rung:
    """`key` is the name in files and of the texts. `rope`: only in an armed rope drill that a helper or coach
    confirmed, since a passenger in the boat would pass otherwise."""

    key: str
    rope: bool = False
    land: bool = False

    @property
    def name(self) -> Said:
        return self._said("name")

    @property
    def why(self) -> Said:
        """What it is for."""
        return self._said("why")

    @property
    def practise(self) -> Said:
        """How to practise it."""
        return self._said("practise")

    @property
    def passes(self) -> Said:
        """What passes."""
        return self._said("passes")

    def _said(self, what: str) -> Said:
        own = f"{self.key}_{what}"
        return say(own) if own in table() else say(f"minutes_{what}", minutes=int(self.key.removeprefix("minutes_")))


RUNGS: tuple[Rung, ...] = (
    Rung("land_beat", land=True),
    *(Rung(key, rope=True) for key in ("rope_level", "rope_pump", "rope_faster")),
    *(Rung(key) for key in ("own_start", "ten_pumps", "seconds_10", "seconds_30", "seconds_60", "there_and_back")),
    *(Rung(f"minutes_{minutes}") for minutes in (2, 3, 5, 10, 20, 30)),
)

RUNG = {rung.key: rung for rung in RUNGS}
