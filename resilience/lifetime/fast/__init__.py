"""The compiled engine: the same story as the reference, a thousand times faster.

Order of reading: ``wiring`` (one possible building), ``blame`` (what a silence is put down to),
``counts`` (how many are lost at once), ``accounts`` (what a lifetime leaves), ``service``
(gateways, interruptions), ``step`` (one step), ``sums`` (what lifetimes add up to), ``play``
(lifetime after lifetime).
"""
