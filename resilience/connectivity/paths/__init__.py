"""Paths between devices: which there are, what the drawing says of them, and what was measured.

Order of reading: ``reach`` (who could hear whom in the open), ``prediction`` (each path through
what stands in it), ``averaging`` (what a long look at a link is worth), ``measured`` (what a
measurement says of a path).
"""
