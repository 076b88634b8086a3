"""What is fragile, what to measure first, and what would come of a change.

Order of reading: ``fragile/`` (what a layout hangs on, by its drawing and by its lifetimes),
``surveying/`` (which measurement would tell most), ``supposing/`` (what-ifs), ``groundwork/``
(places and states), ``reinforcing/`` (which changes help most),
``outset/`` (layouts from sensors alone).
"""
