"""What would come of a change: ``compare --if "without R1"``.

Order of reading: ``changes`` (what can be changed, as values that make another site), ``grammar``
(how a person says it), ``whatifs`` (each against the site as it is, on the same lifetimes).
"""
