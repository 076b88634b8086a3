"""What ``compare`` and ``judge`` say.

Order of reading: ``dependence`` (on what a layout hangs), ``naming`` (what settings are called),
``survival`` (whether the order survives other defaults), ``opening`` (the first lines), ``remarks``
(what is said of single layouts), ``supposing`` (what would come of changes), ``ranking`` (the whole
page), ``judging`` (what is said of a promise).
"""
