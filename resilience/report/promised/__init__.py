"""What ``judge`` says.

Order of reading: ``promise`` (what is promised), ``conditions`` (on which defaults a verdict
hangs), ``judging`` (the whole page).
"""
