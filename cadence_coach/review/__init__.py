"""Looking back: figures of pump, flight, outing and season, the ladder, the report. Reads outings, changes none."""
