"""How this machine stands before an outing: battery, room for the file, permissions, the last self-test. Looked up
here, told in views/before.py. No Kivy."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from typing import Any

import attrs

from cadence_coach.live.machine import phone_battery
from cadence_coach.store.folders import home


@attrs.frozen
class Health:
    """None where the machine does not say."""

    battery_percent: float | None = None
    free_bytes: int | None = None
    missing: tuple[str, ...] = ()
    """Permissions that were not given: see `placeless`, `noteless`."""
    spared: bool = True
    """Whether the battery saver leaves the coach alone."""
    checked: dict[str, Any] | None = None
    """The last self-test: day, passed, lines."""


def placeless(missing: Iterable[str]) -> bool:
    """Whether the satellites may not be asked. Names are Android's own."""
    return any(name.endswith("_LOCATION") for name in missing)


def noteless(missing: Iterable[str]) -> bool:
    """Whether the engine runs without the notification that ends an outing."""
    return any(name.endswith("_NOTIFICATIONS") for name in missing)


def look(host: Any, checked: dict[str, Any] | None) -> Health:
    """Takes a moment on some machines: not for the screen's own thread."""
    try:
        free = shutil.disk_usage(home()).free
    except OSError:
        free = None
    return Health(
        phone_battery(),
        free,
        tuple(host.missing()) if host is not None else (),
        bool(host.spared()) if host is not None else True,
        checked if isinstance(checked, dict) else None,
    )
