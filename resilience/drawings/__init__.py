"""What a plan or a model says: it becomes a site folder, and what was not understood is told.

Order of reading: ``plan`` (what the user states, what is left out, unit and size), ``layers``
(what the names in a drawing mean), ``runs`` (straight walls, and what lies near to what), then the
rooms ``reading`` (lines with their meanings, or walls and slabs themselves) and ``adopting`` (they
become a site folder).
"""
