"""What happens in one lifetime.

Order of reading: ``record`` (what a lifetime leaves), ``mesh`` (what it is played on),
``pruning`` (what need not be played), the room ``reference`` (the engine that is the
specification), ``playing`` (a layout made ready to be played, whichever engine plays).
"""
