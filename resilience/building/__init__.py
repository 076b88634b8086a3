"""What stands in the building, what is installed where.

Order of reading: ``timetable`` (hours of days in months), ``structure`` (levels, walls, and what
stands, opens and moves in them), ``settings`` (radio, routing, hazards as the site states them),
``upkeep`` (the same of who mends what, and of prices), ``models`` (of devices and their cells),
``site`` (devices, layouts, the site itself), ``notes`` (what to know first), then the rooms
``text`` (a file as text at places, and what is wrong with it), ``stated`` (settings as a site
states them), ``sections`` (what each other section of a site's main file means), ``service`` (what
happened on sites in service, what was learnt, and what is promised) and ``files`` (a site folder is
read, checked and written).
"""
