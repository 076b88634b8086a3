"""Who can hear whom, how well, and through what.

Order of reading: ``slabs`` (one wall or slab), ``distance`` (the open path), ``faces`` (where a
straight path meets what stands upright), ``crossings`` (what that costs), ``reception`` (from
strength to reception ratio and ETX), ``links`` (the link table of a layout). Nothing here is drawn
by chance: all is at mean shadowing.
"""
