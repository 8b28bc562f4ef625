"""Plan a round from green to tee, rebuild it from a GPX track, compare the two."""
