"""A page to be shared: written beside the screen, handed to the phone; what goes wrong is a line, not the app's end."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from kivy.app import App

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.live.reasons import reason
from cadence_coach.store.folders import home


def written(name: str, page: Callable[[], str]) -> Path | Exception:
    """The page as a file beside other things that are shared; or why there is none."""
    try:
        folder = home() / "shared"
        folder.mkdir(exist_ok=True)
        file = folder / name
        file.write_text(page(), encoding="utf-8")
        return file
    except Exception as error:
        return error


def shared(found: Path | Exception, title: str) -> str:
    """Hands over what `written` gave; "" or why it could not, in the language of the screen."""
    app = App.get_running_app()
    try:
        if isinstance(found, Exception):
            raise found
        app.host.share(found, app.words(title))
    except (Refused, CouldNot) as error:
        return reason(str(error), app.words.lang)
    except OSError as error:
        return error.strerror or str(error)
    except Exception as error:  # whatever a phone's own side raises
        return f"{type(error).__name__}: {error}"
    return ""
