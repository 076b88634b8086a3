"""Which measurement would tell most, from possible buildings that were played already.

Order of reading: ``unknowns`` (what nobody knows of a building and somebody could measure),
``information`` (what knowing one of them is worth), ``survey`` (what to measure first, level by
level).
"""
