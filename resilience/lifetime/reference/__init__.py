"""The engine that is the specification: simpy processes on a networkx graph.

Order of reading: ``holds`` (what is up and usable), ``routing`` (whose parent is who),
``gateways`` (who serves), ``blame`` (what a silence is put down to), ``bookkeeping`` (what it
leaves), ``simulator`` (the processes that drive it all).
"""
