"""How many lifetimes, and what they say with what bounds.

Order of reading: ``estimates`` (a figure with its bounds), ``sequences`` (bounds that hold at every
look), ``stopping`` (when a study looks and what may end it), ``ledger`` (what is finished),
``pieces`` (lifetimes in a row, and who plays them), ``running`` (rounds of pieces, until a study
ends), ``manifest`` (what made a run), ``study`` (what many lifetimes say of one layout).
"""
