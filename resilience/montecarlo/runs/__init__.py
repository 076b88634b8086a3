"""Lifetimes played for a question, and what of them is kept.

Order of reading: ``packing`` (what lifetimes add up to as bytes), ``ledger`` (what is finished),
``folders`` (what a run folder is called, and that one run uses it), ``pieces`` (lifetimes in a row,
and who plays them), ``running`` (rounds of pieces, until a study ends), ``manifest`` (what made a
run).
"""
