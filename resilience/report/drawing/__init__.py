"""Pictures of a building and what hangs in it, as SVG of our own.

Order of reading: ``ink`` (colours, texts, elements), ``frame`` (from metres to a picture),
``labels`` (names that do not cover each other), ``marks`` and ``strokes`` (devices and links as
values, and how they are drawn), ``fabric`` (walls and what else stands on a level), ``plans`` (a
level, or a graph of what nobody gave a place), ``sections`` (the building cut upright). A length
without a unit in its name is in units of the picture, which is 960 of them wide. What marks mean is
said by who asks for a picture (``answers``); how pictures are bound is ``sheet``'s.
"""
