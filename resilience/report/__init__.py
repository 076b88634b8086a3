"""How a person sees it: values in, text out, no computing.

Order of reading: ``words`` (numbers, spans of time and names in plain words), ``pages`` (an answer
as a value), ``evidence`` (what an answer rests on), ``drawing/`` (a building as pictures),
``charts/`` (numbers as pictures), ``legend`` and ``sheet`` (what explains and what binds them),
``answers/``, ``told/`` (a lifetime), ``comparing/`` and ``many/`` (what each verb says), ``screen``
(a page on a terminal), ``binding/`` (chapters as one file), ``showing/`` and ``papers/`` (what
``report`` shows, and what is handed over). What says things knows nothing of how they look, so that
another way of showing serves all answers at once.
"""
