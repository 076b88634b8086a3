"""What ``weakest`` says.

Order of reading: ``helping`` (what would help, in words), ``opening`` (the first lines),
``weakness`` (the whole page).
"""
