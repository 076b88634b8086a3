"""Hours cut off that are rarer than the lifetimes of a comparison can show, by splitting.

Order of reading: ``hours`` (of one layout), ``order`` (what they say of the order of all).
"""
