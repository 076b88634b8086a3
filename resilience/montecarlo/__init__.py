"""How many lifetimes, and what they say with what bounds.

Order of reading: ``estimates`` (a figure with its bounds), ``running`` (lifetimes in rounds, on one
core or more), ``study`` (what many lifetimes say of one layout).
"""
