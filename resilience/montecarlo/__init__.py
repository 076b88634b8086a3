"""How many lifetimes, and what they say with what bounds.

Order of reading: ``estimates`` (a figure with its bounds), ``sequences`` (bounds that hold at every
look), ``stopping`` (when a study looks and what may end it), ``runs`` (lifetimes played and kept),
``figures`` (figures that are more than one number), ``study`` (what many lifetimes say of one
layout), ``telling`` (the same as JSON and as a table), ``several`` (sites that differ in what is
assumed of them, side by side), ``splitting`` (what is too rare for lifetimes to show).
"""
