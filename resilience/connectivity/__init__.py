"""Who can hear whom, how well, and through what.

Order of reading: the room ``losses`` (what the open path and each thing in it take), the room
``shapes`` (where a straight path meets what is drawn), ``reception`` (from strength to reception
ratio and ETX), ``links`` (the link table of a layout). Nothing here is drawn by chance: all is at
mean shadowing.
"""
