"""How a person sees it: values in, text out, no computing.

Order of reading: ``words`` (numbers, spans of time and names in plain words), ``marks`` (colours,
tables, cautions), ``opening`` (the first lines of ``compare``), ``ranking`` (its tables), ``radio``
(the answer of ``links``), ``calibration`` (what measurements say), ``story`` (one lifetime told),
``catalogue`` (what is taken for granted, and what was read).
"""
