"""The state of the compiled engine, and how it is kept right.

Order of reading: ``compiled`` (how functions are compiled and kept), ``world`` (what each number
means), ``queues`` (calendar and heap), ``cells`` (visits, batteries), ``links`` (what a link costs
at a moment), ``tree`` (who hangs on whom), ``routes`` (who attaches and who moves).
"""
