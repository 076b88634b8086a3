"""Verbs for other programs: what an editor wants to know of the files that people write."""
