"""The two ways a command ends badly. `core` raises ValueError for a caller's mistake and imports nothing from here."""


class Refused(Exception):
    """Asked wrongly or bad input (exit 2). The text is one line: what, where, what to do."""

    exit_code = 2


class CouldNot(Exception):
    """Asked rightly, but it could not be done here (exit 1). The text is one line: what, where, what to do."""

    exit_code = 1
