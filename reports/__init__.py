"""Documented tables in, one offline HTML file out. Knows nothing of where the tables come from."""
