"""How often something comes about that is too rare for plain lifetimes to show.

Order of reading: ``cuts`` (which devices have to be down together), ``nearness`` (the aim of a
layout), ``pilots`` (how many copies at each level), ``runs`` (independent runs, and what they say).
"""
