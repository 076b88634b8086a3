"""Which of many sites is at most risk, and what has moved since an earlier run.

Order of reading: ``sites`` (what is known of one, and how they are ordered), ``on_demand``
(why a hundred thousand of them take little room), ``portfolio`` (all of them), ``moving`` (two runs
of them, side by side).
"""
