"""What ``compare`` and ``judge`` say.

Order of reading: ``dependence`` (on what a layout hangs), ``opening`` (the first lines),
``remarks`` (what is said of single layouts), ``ranking`` (the whole page), ``judging`` (what is
said of a promise).
"""
