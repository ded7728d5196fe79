"""The app's first frame beside an empty Kivy window, and what ten updates a second cost: by tests/app/bench."""

from __future__ import annotations

from tests.app import bench

from .looking import both
from .tables import missed, table


def report() -> tuple[str, list[str]]:
    try:
        starts, share = bench.starts(), bench.updates()
    except Exception as error:  # no screen, no GL, no driver: said, and the other figures still come
        return f"Not tried: {type(error).__name__}: {error}", ["first frame: not tried"]
    first, empty = min(starts["app"]), min(starts["empty window"])
    rows = [
        [
            "first frame",
            both(first, min(starts["app, processor"])),
            both(empty, min(starts["empty window, processor"])),
            "an empty Kivy window",
        ]
    ]
    rows += [[f"water screen, {what}", f"{percent:.1f} % of a core", "", ""] for what, percent in share.items()]
    return table(["", "cadence coach", "beside it", "what that is"], rows), missed(
        first, 1.0, f"first frame {first:.2f} s, goal 1"
    )
