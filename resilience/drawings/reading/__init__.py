"""A drawing is read: its lines with their meanings, or its walls and slabs themselves.

Order of reading: ``dxf`` and ``flat`` (the lines of a DXF, a GeoJSON, a table of walls), ``models``
and ``ifc`` (a building model), ``pictures`` (a scanned plan and its scale).
"""
