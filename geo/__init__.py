"""Metric geometry of recorded tracks: reading, cleaning, measuring. Knows nothing of golf."""
