"""What a few changes to a layout would buy: where a device more, moved or on mains helps most.

Order of reading: ``spots`` (where devices could hang), ``options`` (what could be changed),
``chances`` (how often each thing is away), ``snapshots`` (who has a way in many states at once),
``screening`` (which options look best), ``steps`` (full lifetimes confirm, change by change),
``folders`` (the layout written down).
"""
