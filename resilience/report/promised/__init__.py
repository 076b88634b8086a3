"""What ``judge`` says.

Order of reading: ``conditions`` (on which defaults a verdict hangs), ``judging`` (the whole page).
"""
