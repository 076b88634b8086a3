"""What a plan or a model says: it becomes a site folder, and what was not understood is told.

Order of reading: ``account`` (what became of a drawing), ``plan`` (what the user states, unit and
size), ``words`` and ``layers`` (what the names in a drawing mean), ``runs`` (straight walls, and
what lies near to what), then the rooms ``reading`` (lines with their meanings, or walls and slabs
themselves) and ``adopting`` (they become a site folder).
"""
