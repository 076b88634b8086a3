"""Lifetimes played for a question, and what of them is kept.

Order of reading: ``ledger`` (what is finished), ``pieces`` (lifetimes in a row, and who plays
them), ``running`` (rounds of pieces, until a study ends), ``manifest`` (what made a run).
"""
