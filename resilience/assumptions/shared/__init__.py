"""What strikes several devices or links at once, or follows what they have in common.

Order of reading: ``circuits`` (what feeds them), ``zones`` (where they stand), ``models`` (what
they are, and who can reach them).
"""
