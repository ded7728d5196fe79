"""Colours and sizes of the app, made from palette.py. Pure; contrast is computed in a test from what is here and from
what is drawn.

"sun" is dark on light for glare, every text at least 7:1 on what lies under it; "dark" is for the water and for the
evening. Sizes are in dp; texts grow with the rider's choice and with the phone's own text size.
"""

from __future__ import annotations

from dataclasses import dataclass

from cadence_coach.palette import DARK, LIGHT

Colour = tuple[float, float, float, float]
THEMES = ("sun", "dark")

TOUCH_DP = 52
"""Height of whatever is touched; 48 dp is the least that wet fingers need (common practice, no source)."""
GAP_DP = 16
"""Air between things, and at the edges of a page."""
COLUMN_DP = 640
"""A line of text longer than this is hard to follow."""
SCALES = (0.9, 1.0, 1.15, 1.3)
MOST, MOST_ON_WATER = 2.0, SCALES[-1]
"""Texts grow so far, whatever the phone's own text size: beyond, words break; on the water nothing can be scrolled."""


def colour(text: str) -> Colour:
    """#rrggbb as Kivy takes it."""
    return (int(text[1:3], 16) / 255, int(text[3:5], 16) / 255, int(text[5:7], 16) / 255, 1.0)


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours by use. `on_...` is the text on that ground."""

    name: str
    paper: Colour
    card: Colour
    ink: Colour
    muted: Colour
    line: Colour
    rider: Colour
    on_rider: Colour
    band: Colour
    on_band: Colour
    target: Colour
    cue: Colour
    speed: Colour
    catch: Colour
    shove: Colour
    ease: Colour
    gather: Colour
    onpart: Colour


def _theme(name: str, palette: dict[str, str], **own: str) -> Theme:
    chosen = {**palette, **own}
    return Theme(name, **{key: colour(chosen[key]) for key in Theme.__dataclass_fields__ if key != "name"})


SUN = _theme(
    "sun",
    LIGHT,
    muted="#444b58",  # the palette's own is 5.7:1 on paper: too little in glare
    on_rider="#ffffff",
    on_band=LIGHT["ink"],
    target="#634200",
    cue="#7d2350",
    speed="#0f5359",
)
NIGHT = _theme("dark", DARK, muted="#b4bdcb", on_rider="#12161f", on_band="#ffffff")


def theme(name: str) -> Theme:
    return {"sun": SUN, "dark": NIGHT}[name]


@dataclass(frozen=True, slots=True)
class Type:
    """Text sizes in px for one text scale."""

    small: float
    body: float
    lead: float
    title: float
    big: float
    huge: float
    water: float
    """Least size on the water: 18 dp, and growing less, since nothing can be scrolled there."""


def type_sizes(scale: float, dp: float = 1.0) -> Type:
    """scale: the rider's choice (SCALES) times the phone's own; dp: px of one dp. Big figures grow less: they are large
    as they are. None is under 14 dp: where that is 14 px, thinner strokes are pale."""
    less = 1 + (scale - 1) / 2
    return Type(
        *(dp * max(14.0, scale * s) for s in (15, 17, 20, 25)),
        big=dp * less * 40,
        huge=dp * less * 72,
        water=dp * max(18, 18 * less),
    )


def luminance(c: Colour) -> float:
    """Relative luminance (WCAG 2.2, "relative luminance")."""
    lin = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in c[:3]]
    return 0.2126 * lin[0] + 0.7152 * lin[1] + 0.0722 * lin[2]


def contrast(a: Colour, b: Colour) -> float:
    """Contrast ratio 1 to 21 (WCAG 2.2, "contrast ratio")."""
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
