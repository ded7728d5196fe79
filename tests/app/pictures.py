"""The pictures of the app in README: `python -m tests.app.pictures [NAME]`, drawn by the real app offscreen."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import matplotlib.image
import numpy as np

from tests.app.driver import Driver
from tests.app.pages import FLIGHT, GOING, PAGES, TOLD, at, water

OUT = Path(__file__).parents[1] / "pictures"
WIDTH, HEIGHT, GAP = 360, 640, 14


def gear(app: Driver) -> None:
    at("gear")(app)
    typed = {"rider.name": "Mika Sand (invented)", "rider.mass_kg": "72", "foil.name": "Heron 165"}
    for name, text in {**typed, "foil.wing_area_m2": "1650", "foil.span_m": "128"}.items():
        app.write(f"gear.{name}", text)
    app.until(lambda: any("best near" in text for text in app.texts()))
    app.scroll(0.52)


def before(app: Driver) -> None:
    at("before")(app)
    for key in ("instruction", "leash", "vest", "depth"):
        app.tap(f"tick.{key}")
    app.scroll(0.4)


def flight(app: Driver) -> None:
    PAGES["flight"](app)
    app.scroll(0.86)


PICTURES = {
    "app.png": (
        ("sun", gear),
        ("sun", before),
        ("dark", water(**{**FLIGHT, "speed_m_s": 4.4})),
        ("dark", water(**{**GOING, "speed_m_s": 1.0}, last_flight_s=83.4, flight_pumps=131, summary=TOLD)),
        ("sun", PAGES["outing"]),
    ),
    "app-back.png": (
        ("sun", flight),
        ("dark", PAGES["land:going"]),
        ("sun", PAGES["land:rest"]),
        ("dark", PAGES["ladder"]),
        ("sun", PAGES["season"]),
    ),
}


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, Driver(Path(folder) / "home", WIDTH, HEIGHT) as app:
        for name, pages in PICTURES.items():
            if sys.argv[1:] and name not in sys.argv[1:]:
                continue
            strips = []
            for theme, there in pages:
                app.change(theme=theme)
                there(app)
                shot = Path(folder) / "shot.png"
                app.shot(shot)
                strips += [matplotlib.image.imread(shot)[..., :3], np.full((HEIGHT, GAP, 3), 0.8)]
            matplotlib.image.imsave(OUT / name, np.concatenate(strips[:-1], axis=1))
            print(OUT / name)


if __name__ == "__main__":
    main()
