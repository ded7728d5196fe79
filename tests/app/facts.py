"""What a widget of the running app is, as plain values: where it lies, what it shows, whether it is touched."""

from __future__ import annotations

from typing import Any


def touchable(widget: Any) -> bool:
    from kivy.uix.behaviors import ButtonBehavior
    from kivy.uix.textinput import TextInput

    return isinstance(widget, ButtonBehavior | TextInput) or bool(getattr(widget, "touchable", False))


def visible(widget: Any) -> bool:
    from kivy.core.window import Window

    while widget is not None and widget is not Window:
        if widget.opacity == 0 or widget.width <= 0 or widget.height <= 0:
            return False
        widget = widget.parent
    return True


def fact(widget: Any) -> dict[str, Any]:
    from kivy.core.text import Label as CoreLabel
    from kivy.core.window import Window
    from kivy.uix.label import Label
    from kivy.uix.scrollview import ScrollView
    from kivy.uix.textinput import TextInput

    x, y = widget.to_window(widget.x, widget.y)
    ground, parent, scrolled, seen, inside = None, widget, False, True, []
    while parent is not None and parent is not Window:
        inside.append(id(parent))
        if ground is None and getattr(parent, "ground", None) and getattr(parent, "look", "") != "quiet":
            ground = list(parent.ground)
        if isinstance(parent, ScrollView):
            low, high = parent.to_window(parent.x, parent.y)[1], parent.to_window(parent.x, parent.top)[1]
            scrolled, seen = True, seen and low <= y and y + widget.height <= high
        parent = parent.parent
    out = {
        "class": type(widget).__name__,
        "name": getattr(widget, "name", "") if isinstance(getattr(widget, "name", ""), str) else "",
        "text": getattr(widget, "text", ""),
        "x": x,
        "y": y,
        "width": widget.width,
        "height": widget.height,
        "touch": touchable(widget) and not widget.disabled,
        "scrolled": scrolled,
        "seen": seen,
        "ground": ground,
        "id": id(widget),
        "parent": id(widget.parent),
        "inside": inside[1:],
    }
    if hasattr(widget, "ticked"):
        out["ticked"] = widget.ticked
    if isinstance(widget, TextInput):
        out |= {"typed": {"ink": list(widget.foreground_color), "hint": list(widget.hint_text_color)}}
    if isinstance(widget, Label):
        longest = max(
            (CoreLabel(font_size=widget.font_size, bold=widget.bold).get_extents(w)[0] for w in widget.text.split()),
            default=0,
        )
        out |= {
            "ink": list(widget.color),
            "font_sp": widget.font_size,
            "texture": list(widget.texture_size),
            "room": widget.text_size[0] or widget.width,
            "longest_word": longest,
        }
    return out
