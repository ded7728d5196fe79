"""What must hold for every page, judged from the facts of the layout as it is: sizes of targets, contrast, text that
fits and does not run into other text."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.ft2font import FT2Font

from cadence_coach.app.theme import contrast, luminance

TOUCH_DP = 48.0
CONTRAST = {"sun": 7.0, "dark": 4.5}
"""Least contrast of text and ground: the requirement in the sun; WCAG 2.2 success criterion 1.4.3 (AA) in the dark."""
WATER_SP = 18.0
SLACK = 1.0
"""Half a pixel of rounding on either side."""

GLYPHS = {
    chr(c)
    for c in FT2Font(str(Path(find_spec("kivy").origin).with_name("data") / "fonts/Roboto-Regular.ttf")).get_charmap()
}
"""What the app's font can draw; anything else comes out as an empty box."""

Fact = dict[str, Any]


def wrong(facts: list[Fact], width: float, height: float, theme: str, page: str) -> list[str]:
    """One line for each thing that is not as it must be."""
    bad = []
    texts = [f for f in facts if f["text"] and "ink" in f]
    least = CONTRAST["sun" if page == "water" else theme]
    grounds = [luminance(tuple(f["ground"])) for f in facts if f["ground"]]
    if page != "water" and (max(grounds) > 0.5) != (theme == "sun"):
        bad.append(f"the page is not drawn in the {theme} theme")
    for f in facts:
        what = f"{f['class']} {f['name'] or f['text']!r}"
        if f["touch"] and (f["width"] < TOUCH_DP - SLACK or f["height"] < TOUCH_DP - SLACK):
            bad.append(f"{what}: target {f['width']:.0f} x {f['height']:.0f} dp")
        if f["x"] < -SLACK or f["x"] + f["width"] > width + SLACK:
            bad.append(f"{what}: sticks out sideways, {f['x']:.0f} to {f['x'] + f['width']:.0f} of {width:.0f}")
        if not f["scrolled"] and (f["y"] < -SLACK or f["y"] + f["height"] > height + SLACK):
            bad.append(f"{what}: sticks out, {f['y']:.0f} to {f['y'] + f['height']:.0f} of {height:.0f}")
    for f in texts:
        what = f"{f['class']} {f['text']!r}"
        if f["texture"][0] > f["width"] + SLACK or f["texture"][1] > f["height"] + SLACK:
            bad.append(f"{what}: text {f['texture']} is cut to {f['width']:.0f} x {f['height']:.0f}")
        if f["longest_word"] > f["room"] + SLACK:
            bad.append(f"{what}: a word of {f['longest_word']:.0f} is broken in a room of {f['room']:.0f}")
        if f["ground"] is None:
            bad.append(f"{what}: lies on a ground that nobody names")
        elif (seen := contrast(tuple(f["ink"]), tuple(f["ground"]))) < least:
            bad.append(f"{what}: contrast {seen:.2f}")
        if missing := sorted(set(f["text"]) - GLYPHS - {"\n"}):
            bad.append(f"{what}: the font has no {' '.join(missing)}")
        if page == "water" and f["font_sp"] < WATER_SP:
            bad.append(f"{what}: {f['font_sp']:.0f} sp on the water")
        for over in (o for o in facts if o["touch"] and o["id"] != f["id"] and o["id"] not in f["inside"]):
            if _in_one_sight(f, over) and _meet(_box(f), _whole(over)):
                bad.append(f"{what} lies under {over['class']} {over['name'] or over['text']!r}")
    for f in facts:
        for kind, ink in f.get("typed", {}).items():
            if (seen := contrast(tuple(ink), tuple(f["ground"]))) < least:
                bad.append(f"{f['class']} {f['name']!r}: contrast {seen:.2f} of what is typed ({kind})")
    for n, one in enumerate(texts):
        for other in texts[n + 1 :]:
            if _in_one_sight(one, other) and _meet(_box(one), _box(other)):
                bad.append(f"{one['text']!r} and {other['text']!r} lie on each other")
    return bad


def _box(f: Fact) -> tuple[float, float, float, float]:
    """Where the letters are, middle of the widget: text is always centred vertically in its box."""
    w, h = min(f["texture"][0], f["width"]), min(f["texture"][1], f["height"])
    middle = f["y"] + f["height"] / 2
    return f["x"], middle - h / 2, f["x"] + w, middle + h / 2


def _whole(f: Fact) -> tuple[float, float, float, float]:
    return f["x"], f["y"], f["x"] + f["width"], f["y"] + f["height"]


def _in_one_sight(a: Fact, b: Fact) -> bool:
    """Neither is where only scrolling would bring it, so that the other lies elsewhere by then."""
    return bool(a["scrolled"] == b["scrolled"] or (a["seen"] and b["seen"]))


def _meet(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return min(a[2], b[2]) - max(a[0], b[0]) > SLACK and min(a[3], b[3]) - max(a[1], b[1]) > SLACK


def off_the_picture(path: Any, facts: list[Fact], theme: str) -> list[str]:
    """The same contrast from the pixels: in each text's box the most frequent colour is the ground, and the ink is the
    one farthest from it. Only texts wholly in sight; a picture has no scrolled-out part."""
    import matplotlib.image

    pixels = matplotlib.image.imread(path)[..., :3]
    high, wide = pixels.shape[:2]
    bad = []
    for f in facts:
        if not f["text"] or "ink" not in f or not f["seen"]:
            continue
        left, low, right, top = (round(v) for v in _box({**f, "texture": [f["width"], f["texture"][1]]}))
        if left < 0 or low < 0 or right > wide or top > high or right - left < 4 or top - low < 4:
            continue
        patch = (pixels[high - top : high - low, left:right].reshape(-1, 3) * 255).round().astype(int)
        codes = patch @ (1 << 16, 1 << 8, 1)
        values, counts = np.unique(codes, return_counts=True)
        # fewer pixels of a colour are the edges of letters; a single narrow letter is made of edges
        shades = _luminance(values[counts >= (3 if right - left > 12 else 1)])
        ground = _luminance(values[counts.argmax()])
        seen = ((np.maximum(shades, ground) + 0.05) / (np.minimum(shades, ground) + 0.05)).max()
        if seen < CONTRAST[theme] - 0.3:  # thin strokes are never quite as dark as their colour
            bad.append(f"{f['text']!r}: {seen:.2f} on the picture")
    return bad


def _luminance(codes: Any) -> Any:
    """As theme.luminance, of many colours 0xrrggbb at once."""
    parts = np.stack([np.asarray(codes) >> 16, np.asarray(codes) >> 8 & 255, np.asarray(codes) & 255]) / 255
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return np.tensordot([0.2126, 0.7152, 0.0722], linear, 1)
