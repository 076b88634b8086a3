"""What is taken for granted, and who says so.

Order of reading: ``catalogue`` (what an assumption is), then the values: ``radio``,
``constructions``, ``devices``, ``routing``, ``hazards``, ``changes``, ``upkeep``, and the room
``shared`` (what strikes several at once).
"""
