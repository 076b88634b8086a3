"""What ``weakest`` says.

Order of reading: ``helping`` (what would help, in words), ``walking`` (what to measure
first, level by level), ``opening`` (the first lines), ``weakness`` (the whole page),
``reinforcing`` (what a few changes buy), ``outset``
(layouts from sensors alone).
"""
