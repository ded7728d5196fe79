"""What the rider hears: sounds as PCM placed by frame number, and the sinks that play them. It never decides when to
speak."""
