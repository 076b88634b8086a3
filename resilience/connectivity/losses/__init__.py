"""What a path takes.

Order of reading: ``distance`` (the open path), ``slabs`` (through one wall or slab), ``edges``
(round an obstacle), ``second_opinion`` (the whole path by a model that only counts).
"""
