"""What stands in the building, what is installed where.

Order of reading: ``structure`` (levels, walls, shafts, pillars, doors), ``settings`` (radio,
routing, hazards, upkeep as the site states them), ``site`` (devices, layouts, the site itself),
``cells`` (text at a place in a file, and what is wrong with it), then the room ``files``
(a site folder is read, checked and written).
"""
