"""What stands in a path, and how it gets past.

Order of reading: ``faces`` (one path and one thing, with the touching rule), ``scene`` (the drawing
as arrays), ``grid`` (which things are near a path), ``meetings`` (what each path meets),
``detours`` (the ways round it), ``reckoning`` (what each path pays in the end), ``compiled`` (how
all of that is compiled), ``crossings`` (the front door). The functions from ``faces`` to
``reckoning`` work on plain arrays: they run as they stand, or compiled where paths are many.
"""
