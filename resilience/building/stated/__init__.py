"""Settings as a site states them, defaults filled in.

Order of reading: ``sections`` (any section, checked against the catalogue), ``equipment`` (models,
cells and temperatures), ``circuits`` (what feeds several devices), ``zones`` (rates of their own),
``upkeep`` (who comes when), ``standing`` (how old devices in service are), ``restating`` (one
setting changed in memory).
"""
