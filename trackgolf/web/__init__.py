"""The local page: the library in a browser, for the one who started it."""
