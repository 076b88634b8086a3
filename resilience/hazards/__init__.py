"""What can strike, how often, and how it ends.

Order of reading: ``laws`` (durations as values), ``elements`` (what strikes), ``table`` (the hazard
table of a layout).
"""
