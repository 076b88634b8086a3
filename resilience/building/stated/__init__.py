"""Settings as a site states them, defaults filled in.

Order of reading: ``sections`` (any section, checked against the catalogue), ``equipment`` (models,
cells and temperatures), ``circuits`` (what feeds several devices), ``upkeep`` (who comes when).
"""
