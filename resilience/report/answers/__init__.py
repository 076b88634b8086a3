"""What each verb says, as pages.

Order of reading: ``checking`` (what was read of a site), ``radio`` (who hears whom), ``plan``
(the same, drawn), ``calibration`` (what measurements say), ``learning`` (what own history says),
``steps`` and ``story`` (one lifetime gathered and told), ``catalogue`` (what is taken for granted);
what ``compare`` says is in ``comparing``.
"""
