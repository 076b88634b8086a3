"""What ``compare`` says.

Order of reading: ``dependence`` (on what a layout hangs), ``opening`` (the first lines),
``ranking`` (the whole page).
"""
