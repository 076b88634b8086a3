"""What can strike, how often, how it ends; and the draws that decide when.

Order of reading: ``draws`` (luck as pure functions), ``laws`` (durations as values), ``elements``
(what strikes), ``strengths`` and ``buildings`` (one possible building behind the predicted links),
``spreads`` (how far buildings differ), ``table`` (the hazard table of a layout).
"""
