"""The state of the compiled engine, and how it is kept right.

Order of reading: ``books`` and ``world`` (what each number means), ``compiled`` (how functions are
compiled, and a world passed on), ``queues`` (clocks, calendar and heap), ``cells`` (visits,
batteries), ``links`` (what a link costs at a moment), ``tree`` (who hangs on whom), ``routes`` (who
attaches and who moves).
"""
