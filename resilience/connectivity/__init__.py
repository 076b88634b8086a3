"""Who can hear whom, how well, and through what.

Order of reading: the room ``losses`` (what the open path and each thing in it take), the room
``shapes`` (where a straight path meets what is drawn, and the ways round it), ``reception`` (from
strength to reception ratio and ETX), ``swing`` and ``air`` (how strengths move, and what decides a
link at a moment), the room ``paths`` (who could hear whom, through what, and what was measured),
``rows`` (one link as a value), ``table`` (all links of a layout, in columns), ``links`` (the links
of a site, predicted once for all of its layouts), ``hearing`` (what each device hears), ``trees``
(who passes readings to whom, and what moves when a device is off), the room ``surveys`` (what
measured links correct), the room ``luck`` (one possible building). All but luck is at mean
shadowing.
"""
