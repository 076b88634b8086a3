"""Who can hear whom, how well, and through what.

Order of reading: the room ``losses`` (what the open path and each thing in it take), the room
``shapes`` (where a straight path meets what is drawn, and the ways round it), ``reception`` (from
strength to reception ratio and ETX), ``table`` (the link table as a value), ``reach`` (who could
hear whom in the open), ``prediction`` (each path through what stands in it), ``links`` (the link
table of a layout, measured links laid over it), ``hearing`` (what each device hears), the room
``surveys`` (what measured links correct). Nothing here is drawn by chance: all is at mean
shadowing.
"""
