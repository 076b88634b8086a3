"""Which layout is more robust, how surely, and why.

Order of reading: ``pairs`` (two layouts on the same luck, and what their difference is made of),
``groups`` (layouts told apart as groups), ``settling`` (when the order is clear), ``comparison``
(all layouts of a site in order), ``variation`` (what other defaults show of an order), ``varying``
(how that is found out), ``seldom/`` (what is too rare for all of that), ``many/`` (sites instead
of layouts).
"""
