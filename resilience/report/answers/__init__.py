"""What each verb says, as pages.

Order of reading: ``comparing`` (which layout is more robust, and why), ``checking`` (what was read
of a site), ``radio`` (who hears whom), ``calibration`` (what measurements say), ``steps`` and
``story`` (one lifetime gathered and told), ``catalogue`` (what is taken for granted).
"""
