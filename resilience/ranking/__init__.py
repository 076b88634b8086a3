"""Which layout is more robust, how surely, and why.

Order of reading: ``pairs`` (two layouts on the same luck, and what their difference is made of),
``comparison`` (all layouts of a site in order).
"""
