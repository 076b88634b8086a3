"""Portfolios of invented sites, for trials and benchmarks: no such place is known to us.

Order of reading: ``luck`` (numbers that a seed gives), ``kinds`` (kinds and ages of buildings),
``buildings`` (one building of a kind), ``layouts`` (what could hang in it), ``portfolios`` (many of
them, named and written).
"""
