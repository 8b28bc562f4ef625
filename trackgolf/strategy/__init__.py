"""The computed plan: what to play from anywhere on a hole, and what it risks."""
