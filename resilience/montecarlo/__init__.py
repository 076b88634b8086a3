"""How many lifetimes, and what they say with what bounds.

Order of reading: ``estimates`` (a figure with its bounds), ``sequences`` (bounds that hold at every
look), ``stopping`` (when a study looks and what may end it), ``runs`` (lifetimes played and kept),
``figures`` (figures that are more than one number), ``study`` (what many lifetimes say of one
layout), ``costs`` (what it takes and costs), ``telling`` (the same as JSON and as a table),
``retelling`` (a few lifetimes once more, for what is not added up), ``assumed`` (the same site if
what is assumed of it were otherwise), ``splitting`` (what is too rare for lifetimes to show).
"""
