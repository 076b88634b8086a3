"""What ``weakest`` says.

Order of reading: ``helping`` (what would help, in words), ``opening`` (the first lines),
``walking`` (what to measure first, level by level), ``weakness`` (the whole page).
"""
