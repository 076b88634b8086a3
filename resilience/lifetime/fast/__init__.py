"""The compiled engine: the same story, told on plain arrays.

Order of reading, after the room ``state``: ``service`` (who serves, how long a move takes),
``blame`` and ``books`` (what a lifetime leaves), ``story`` (one lifetime), ``buildings`` (many of
them), ``arrays`` (from a mesh to arrays and back to a record), ``many`` (from a layout to a tally).
"""
