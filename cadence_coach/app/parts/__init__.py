"""The app's own widgets, by use: Say (text), Press (button), Hold (held for a while), TickRow, GoRow, Choice, Field,
Card, BigNumber, Page.

They know sizes, colours and touches and nothing of the sport. Colours come from `app.colours`, text sizes from
`app.type`, words from `app.words`; whoever draws a ground of its own says so in `ground`, so that contrast can be
checked. `load()` reads their kv once.
"""

from pathlib import Path

from kivy.lang import Builder

from cadence_coach.app.parts.button import GoRow, Press, TickRow
from cadence_coach.app.parts.choice import Choice
from cadence_coach.app.parts.field import Field
from cadence_coach.app.parts.frame import Card, Foot, Page
from cadence_coach.app.parts.hold import Hold
from cadence_coach.app.parts.say import BigNumber, Say

__all__ = ["BigNumber", "Card", "Choice", "Field", "Foot", "GoRow", "Hold", "Page", "Press", "Say", "TickRow", "load"]

_loaded: set[str] = set()


def load(kv: Path | None = None) -> None:
    """A kv file, once; the parts' own without a name."""
    path = str(kv or Path(__file__).with_name("parts.kv"))
    if path not in _loaded:
        _loaded.add(path)
        Builder.load_file(path)
