"""Lifetimes that are stopped, copied, and continued with another future.

Order of reading: ``aims`` (what is looked for, and how near it is), ``blocks`` (a world whose state
can be copied at once), ``redrawing`` (the future drawn anew), ``families`` (one lifetime and its
branches), ``journeys`` (a lifetime stopped and continued), ``splitter`` (many lifetimes with all
their branches, added up).
"""
