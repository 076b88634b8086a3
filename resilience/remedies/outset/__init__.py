"""A layout from sensors alone: the cheapest that keep a promise, and how far was searched.

Order of reading: ``allowed`` (what could hang where), ``field`` (how any part of that looks),
``groups`` (what costs alike, the cheapest first), ``proposals`` (what is told), ``search`` (screen,
short plays, and fresh lifetimes by the bound of a judgement), ``folders`` (the layout written
down).
"""
