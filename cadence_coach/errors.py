"""The two ways a command ends badly. `core` raises ValueError for a caller's mistake and imports nothing from here."""


class _OneLine(Exception):
    """Quotes what strangers' files and names hold: line breaks and control characters in it must neither make a second
    line nor reach a terminal, and half a surrogate pair cannot even be printed."""

    def __init__(self, text: object = "") -> None:
        super().__init__("".join(c if c.isprintable() else " " if c.isspace() else "\ufffd" for c in str(text)))


class Refused(_OneLine):
    """Asked wrongly or bad input (exit 2). The text is one line: what, where, what to do."""

    exit_code = 2


class CouldNot(_OneLine):
    """Asked rightly, but it could not be done here (exit 1). The text is one line: what, where, what to do."""

    exit_code = 1
