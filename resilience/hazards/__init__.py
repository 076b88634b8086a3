"""What can strike, how often, and how it ends.

Order of reading: ``laws`` (durations as values, and what is left of them), ``causes`` (what can
take something away, and how that is told and counted), ``elements`` (what strikes), ``fates``
(their luck in one lifetime), ``shared`` (what strikes several at once), ``cells`` (what cells hold
and lose), ``upkeep`` (how calls are answered, and when somebody works), ``table`` (the hazard table
of a layout), then the room ``learning`` (what own history says of all that).
"""
