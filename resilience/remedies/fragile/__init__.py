"""What a layout hangs on.

Order of reading: ``ways`` (which devices and links all ways of a sensor lead through),
``bottlenecks`` (single points of failure, as drawn and in possible buildings), ``together`` (two
devices whose loss together is worse), ``absences`` (who was cut off while what was away, in played
lifetimes), ``importance`` (what that says of each thing), ``loads`` (who carries how much, and
whose cells go first), ``weakest`` (all of that of one layout).
"""
