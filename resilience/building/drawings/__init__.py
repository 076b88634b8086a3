"""A drawing is read: its lines with their meanings, or its walls and slabs themselves.

Order of reading: ``plan`` (what the user states, what is left out, unit and size), ``layers``
(what the names in a drawing mean), ``dxf`` and ``flat`` (the lines of a DXF, a GeoJSON, a table of
walls), ``runs`` (straight walls, and what lies near to what), ``models`` and ``ifc`` (a building
model), ``pictures`` (a scanned plan and its scale).
"""
