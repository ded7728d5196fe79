"""Where rows (acceleration, rotation, speed) come from; each is opened by name and yields lists of rows in order."""
