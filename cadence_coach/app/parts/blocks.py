"""Turns the frozen blocks of a view into widgets. As long as only values change the widgets stay: nothing flickers,
nothing typed is lost, and a page that changes ten times a second is cheap."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from kivy.app import App
from kivy.clock import Clock
from kivy.core.text import Label as CoreLabel
from kivy.metrics import dp
from kivy.properties import ListProperty, ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from cadence_coach.app.parts.button import GoRow, Press, TickRow
from cadence_coach.app.parts.chart import ChartView  # noqa: F401 (named in kv)
from cadence_coach.app.parts.choice import Choice
from cadence_coach.app.parts.field import Field
from cadence_coach.app.parts.frame import Card
from cadence_coach.app.parts.hold import Hold
from cadence_coach.app.parts.say import BigNumber, Say
from cadence_coach.app.views import blocks as b

FRAME_S = 0.05
"""So long a frame may make widgets: Android asks to close an app that stands still for 5 s."""


class Blocks(BoxLayout):
    """blocks: a tuple of views.blocks values; `on_act(act, value)` is dispatched when something is touched."""

    blocks = ObjectProperty((), force_dispatch=True)

    def __init__(self, **given: Any) -> None:
        self.register_event_type("on_act")
        self._shapes: list[tuple[Any, ...]] = []
        """Of the widgets there are, from the first on."""
        self._last = 0
        """So many of them, from the last on, stand where they stay: what is still to be made comes before them."""
        self._later = Clock.create_trigger(self._more, 0)
        super().__init__(**given)
        self.on_blocks()

    def on_blocks(self, *_: Any) -> None:
        """What is the same at the beginning and at the end keeps its widgets; what lies between is made anew."""
        shapes = [shape(block) for block in self.blocks]
        first = alike(self._shapes, shapes)
        self._last = alike(self._shapes[first:][::-1], shapes[first:][::-1])
        widgets = self.children[::-1]
        middle = slice(first, len(widgets) - self._last)
        for widget in widgets[middle]:
            self.remove_widget(widget)
        del widgets[middle], self._shapes[middle]
        for at, widget in enumerate(widgets):
            widget.show(self.blocks[at if at < first else at - len(widgets)])
        self._more()

    def _more(self, *_: Any) -> None:
        """Widgets for what has none yet: as many as a frame can bear, the others in the frames that follow."""
        until = time.monotonic() + FRAME_S
        while not self.filled:
            if time.monotonic() > until:
                self._later()
                return
            at = len(self.children) - self._last
            block = self.blocks[at]
            widget = MAKERS[type(block)](self.asked)
            self._shapes.insert(at, shape(block))
            self.add_widget(widget, self._last)
            widget.show(block)

    @property
    def filled(self) -> bool:
        """Whether each block has its widget."""
        return len(self.children) == len(self.blocks)

    def asked(self, act: str, value: Any = None) -> None:
        self.dispatch("on_act", act, value)

    def on_act(self, act: str, value: Any) -> None:
        pass


def alike(some: list[Any], others: list[Any]) -> int:
    """So many of them are the same from the first on."""
    return next((n for n, (a, b) in enumerate(zip(some, others, strict=False)) if a != b), min(len(some), len(others)))


def shape(block: b.Block) -> tuple[Any, ...]:
    """What must be the same for the widgets to stay."""
    if isinstance(block, b.Group):
        return (b.Group, *(shape(one) for one in block.blocks))
    if isinstance(block, b.Numbers | b.Rows):
        return (type(block), len(block.items))
    return (type(block), getattr(block, "act", ""))


class TextBlock(Say):
    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()

    def show(self, block: b.Text) -> None:
        self.kind, self.text, self.muted = block.kind, block.text, block.muted
        self.bold = block.kind in ("lead", "title")

    muted = ObjectProperty(False)


class NumbersBlock(BoxLayout):
    """As many side by side as fit, rows of them."""

    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()
        self._figures: list[BigNumber] = []
        self._side = 0
        self.bind(width=self._rows)
        App.get_running_app().bind(type=self._rows)  # bind, not fbind: it lets go of what is gone

    def show(self, block: b.Numbers) -> None:
        while len(self._figures) < len(block.items):
            self._figures.append(BigNumber(pos_hint={"top": 1}))
        for widget, (value, caption) in zip(self._figures, block.items, strict=True):
            widget.value, widget.caption = value, caption
        self._rows()

    def _rows(self, *_: Any) -> None:
        kind = App.get_running_app().type
        widest = dp(120)
        for figure in self._figures:
            widest = max(widest, CoreLabel(font_size=kind.big).get_extents(figure.value)[0])
            words = figure.caption.split()
            widest = max([widest, *(CoreLabel(font_size=kind.small).get_extents(word)[0] for word in words)])
        side = max(1, int((self.width + dp(12)) // (widest + dp(20))))
        if side == self._side and self.children:
            return
        self._side = side
        for row in self.children:
            row.clear_widgets()
        self.clear_widgets()
        for at in range(0, len(self._figures), side):
            row = NumbersRow()
            for figure in self._figures[at : at + side]:
                row.add_widget(figure)
            for _ in range(side - len(row.children)):
                row.add_widget(Widget())
            self.add_widget(row)


class NumbersRow(BoxLayout):
    """As high as its highest figure."""

    def add_widget(self, widget: Any, *more: Any, **given: Any) -> None:
        super().add_widget(widget, *more, **given)
        widget.fbind("height", self._fit)
        self._fit()

    def remove_widget(self, widget: Any, *more: Any, **given: Any) -> None:
        widget.funbind("height", self._fit)
        super().remove_widget(widget, *more, **given)

    def _fit(self, *_: Any) -> None:
        self.height = max((c.height for c in self.children if c.size_hint_y is None), default=0)


class RowsBlock(BoxLayout):
    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()

    def show(self, block: b.Rows) -> None:
        if len(self.children) != len(block.items):
            self.clear_widgets()
            for _ in block.items:
                self.add_widget(RowLine())
        for line, (what, how_much) in zip(self.children[::-1], block.items, strict=True):
            line.what, line.how_much = what, how_much


class RowLine(BoxLayout):
    what = StringProperty("")
    how_much = StringProperty("")


class PictureBlock(BoxLayout):
    chart = ObjectProperty(None, allownone=True)
    caption = StringProperty("")
    high = ObjectProperty(190.0)

    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()

    def show(self, block: b.Picture) -> None:
        self.high, self.caption, self.chart = block.height, block.caption, block.chart


class GoBlock(GoRow):
    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()
        self.bind(on_release=lambda _: asked(self.name))

    def show(self, block: b.Go) -> None:
        self.name, self.text, self.sub = block.act, block.text, block.sub


class PushBlock(Press):
    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()
        self.bind(on_release=lambda _: asked(self.name))

    def show(self, block: b.Push) -> None:
        self.name, self.text, self.look = block.act, block.text, block.look


class HoldBlock(Hold):
    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()
        self.bind(on_held=lambda _: asked(self.name))

    def show(self, block: b.HoldOn) -> None:
        self.name, self.text = block.act, block.text


class PickBlock(Choice):
    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()
        self.bind(on_choose=lambda _, key: asked(self.name, key))

    def show(self, block: b.Pick) -> None:
        self.name, self.options, self.chosen = block.act, [list(o) for o in block.options], block.chosen
        self.again = block.again


class TickBlock(TickRow):
    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()
        self._asked = asked

    def on_release(self) -> None:
        super().on_release()  # what is bound to the event would hear the state before it
        self._asked(self.name, self.ticked)

    def show(self, block: b.Tick) -> None:
        self.name, self.text, self.ticked = block.act, block.text, block.ticked


class WriteBlock(Field):
    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()
        self.bind(on_typed=lambda _, text: asked(self.name, text))

    def show(self, block: b.Write) -> None:
        self.name, self.label, self.text, self.hint = block.act, block.label, block.text, block.hint
        self.number, self.unit, self.trouble = block.number, block.unit, block.trouble


class GroupBlock(Card):
    items = ListProperty()

    def __init__(self, asked: Callable[..., None]) -> None:
        super().__init__()
        self._asked = asked

    def show(self, block: b.Group) -> None:
        if not self.children:
            for one in block.blocks:
                self.add_widget(MAKERS[type(one)](self._asked))
        for widget, one in zip(self.children[::-1], block.blocks, strict=True):
            widget.show(one)


MAKERS: dict[type, Callable[[Callable[..., None]], Any]] = {
    b.Text: TextBlock,
    b.Numbers: NumbersBlock,
    b.Rows: RowsBlock,
    b.Picture: PictureBlock,
    b.Go: GoBlock,
    b.Push: PushBlock,
    b.HoldOn: HoldBlock,
    b.Pick: PickBlock,
    b.Tick: TickBlock,
    b.Write: WriteBlock,
    b.Group: GroupBlock,
}
