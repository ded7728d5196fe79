"""Pure streaming core: what moves, what it means, what to say.

Standard library only, nothing of ours from outside this folder; no clock, thread, file, screen, log or random number.
"""
