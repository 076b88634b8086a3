"""What ``compare`` says.

Order of reading: ``dependence`` (on what a layout hangs), ``naming`` (what settings are called),
``survival`` (whether the order survives other defaults), ``opening`` (the first lines), ``remarks``
(what is said of single layouts), ``supposing`` (what would come of changes), ``costs`` (what
layouts cost), ``ranking`` (the whole page).
"""
