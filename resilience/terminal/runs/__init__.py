"""What verbs have in common that take their time.

Order of reading: ``engine`` (which one plays), ``keeping`` (where a run is kept), ``progress`` (how
long it still takes), ``asking`` (a question put to many lifetimes, with all of these),
``gathering`` (all answers of a report, from the same lifetimes), ``varying`` (an order put to the
test of other defaults), ``supposing`` (what-ifs).
"""
