"""The engine that is the specification: simpy processes on a networkx graph.

Order of reading: ``levels`` (how strong a link is at a moment), ``holds`` (what is up and usable),
``routing`` (who serves, and whose parent is who), ``blame`` (what a silence is put down to),
``accounts`` (what a lifetime leaves), ``visits`` (what is found there, parts and rounds),
``upkeep`` (cells, calls and crews), ``simulator`` (the processes that drive it all).
"""
