"""What each verb says, as pages.

Order of reading: ``checking`` (what was read of a site), ``radio`` (who hears whom), ``plan`` (the
same, drawn), ``calibration`` (what measurements say), ``learning`` (what own history says),
``catalogue`` (what is taken for granted); what ``trace`` says is in ``told``, what ``compare`` says
in ``comparing``, what ``portfolio`` says in ``many``.
"""
