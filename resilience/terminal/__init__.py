"""How a person asks for it: rooms of verbs, one module each, and what they share.

Order of reading: ``group`` (verbs that are loaded when asked for), ``options`` (what they have in
common), ``screen`` (where text and JSON go), ``writing`` (files that are written for people, and
what they never replace), ``runs/`` (what all have in common that take their time), ``describe/``,
``decide/``, ``keep_up/`` and ``tools/`` (the verbs, by what they are for). Modules here import only
typer and the standard library at the top, so that ``--help`` is quick.
"""
