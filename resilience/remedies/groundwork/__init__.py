"""What every search for a better layout stands on.

Order of reading: ``spots`` (where devices could hang), ``chances`` (how often each thing is away),
``snapshots`` (who has a way in many states at once).
"""
