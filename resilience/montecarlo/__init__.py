"""How many lifetimes, and what they say with what bounds.

Order of reading: ``estimates`` (a figure with its bounds), ``sequences`` (bounds that hold at every
look), ``stopping`` (when a study looks and what may end it), ``ledger`` (what is finished),
``running`` (lifetimes in rounds, on one core or more), ``manifest`` (what made a run), ``study``
(what many lifetimes say of one layout).
"""
