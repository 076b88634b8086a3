"""Charts as SVG of our own: few kinds, each readable without a script.

Order of reading: ``axes`` (from numbers to a picture), ``marks`` (what can be pointed at), then the
kinds: ``whiskers`` (a value with its bounds, row by row), ``bars`` (parts of a whole), ``steps``
(how often something is exceeded); ``looks`` are their rules. A chart is a ``Figure`` like every
other picture; its numbers are written beside its marks, told by their titles, and kept in full in
``data-value``.
"""
