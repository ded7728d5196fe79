"""What the rider hears: PCM by frame number (pure, numpy) and the sinks that play it, opened by name."""
