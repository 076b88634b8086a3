"""What each verb says, as pages.

Order of reading: ``checking`` (what was read of a site), ``radio`` (who hears whom),
``calibration`` (what measurements say), ``learning`` (what own history says), ``steps``, ``visits``
and ``story`` (one lifetime gathered and told), ``catalogue`` (what is taken for granted); what
``compare`` says is in ``comparing``.
"""
