"""`python -m cadence_coach` is the same as `cadence-coach`."""

from cadence_coach.cli import main

main()
