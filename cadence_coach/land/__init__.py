"""Rhythm training on dry land: a ladder of tempos, clicks on exact times, and how well the body went with them.
Pure."""
