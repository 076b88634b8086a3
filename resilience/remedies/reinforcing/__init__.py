"""What a few changes to a layout would buy: where a device more, moved or on mains helps most.

Order of reading: ``options`` (what could be changed), ``screening`` (which options look best),
``confirming`` (full lifetimes, the more of them the harder options are to tell apart), ``steps``
(change by change), ``folders`` (the layout written down).
"""
