"""The compiled engine: the same story, told on plain arrays.

Order of reading: ``compiled`` (how functions are compiled and kept), ``columns`` (what each number
of the state means), ``queues`` (calendar and heap), ``tree`` (routes repaired where they changed),
``books`` (what a lifetime leaves), ``kernel`` (one lifetime), ``arrays`` (from a mesh to arrays and
back to a record).
"""
