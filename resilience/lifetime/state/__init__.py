"""The state of the compiled engine, and how it is kept right.

Order of reading: ``compiled`` (how functions are compiled and kept), ``columns`` (what each number
means), ``queues`` (calendar and heap), ``cells`` (laws, visits, batteries), ``holds`` (what is up
and what a link costs), ``tree`` (routes repaired where they changed).
"""
