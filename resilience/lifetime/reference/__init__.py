"""The engine that is the specification: simpy processes on a networkx graph.

Order of reading: ``levels`` (how strong a link is at a moment), ``holds`` (what is up and usable),
``routing`` (whose parent is who), ``gateways`` (who serves), ``blame`` (what a silence is put down
to), ``upkeep`` (cells, calls and visits), ``accounts`` (what a lifetime leaves), ``simulator`` (the
processes that drive it all).
"""
