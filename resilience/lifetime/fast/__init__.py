"""The compiled engine: the same story as the reference, a thousand times faster.

Order of reading: ``wiring`` (one possible building), ``blame`` (what a silence is put down to),
``accounts`` (what a lifetime leaves, and how many are lost at once), ``service`` (gateways,
interruptions), ``upkeep`` (calls and visits), ``step`` (one step), ``sums`` (what lifetimes add up
to), ``play`` (lifetime after lifetime).
"""
