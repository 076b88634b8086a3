"""What if a default were otherwise: sites under other defaults, on the same few lifetimes.

Order of reading: ``variants`` (which defaults, and the sites that come of them), ``several`` (such
sites played side by side).
"""
