"""What own history says of rates, lives and durations.

Order of reading: ``evidence`` (what a history holds for one cause), ``planes`` (weights on a grid
of two unknowns), ``rates`` (how often something strikes), ``lives`` (hardware that wears, cells
that spread), ``lasting`` (how long something takes), ``lessons`` (what was assumed before and what
is known now), ``learning`` (all of it for one site).
"""
