"""What stands in the building, what is installed where.

Order of reading: ``structure`` (levels, walls, and what stands, opens and moves in them),
``settings`` (radio, routing, hazards, upkeep as the site states them), ``site`` (devices, layouts,
the site itself), ``notes`` (what to know first), ``entries`` (text at a place in a file, and what
is wrong with it), then the rooms ``files`` (a site folder is read, checked and written),
``sections`` (what each section of its main file means), ``drawings`` (what a plan's file holds) and
``adopting`` (it becomes a site folder).
"""
