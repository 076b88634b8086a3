"""Between values and the worlds of the compiled engine.

Order of reading: ``wires`` (links in columns), ``upkeep`` (rules of upkeep), ``worlds`` (from
devices, links and hazards to a world), ``records`` (one lifetime played, and told), ``tallying``
(many played, and added up).
"""
