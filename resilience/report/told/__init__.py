"""One lifetime as a page.

Order of reading: ``steps`` (what happened at once, gathered), ``visits`` (calls and crews),
``story`` (all of it, told).
"""
