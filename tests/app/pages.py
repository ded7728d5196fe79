"""How a test gets to each page, with something on it: name -> what is done with the driver. A new screen is a line
here; it is then checked at every size, in every theme and language."""

from __future__ import annotations

from collections.abc import Callable

from tests.app.driver import Driver


def home(app: Driver) -> None:
    app.first_page()


PAGES: dict[str, Callable[[Driver], None]] = {
    "home": home,
}
