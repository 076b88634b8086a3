"""What measured links say about the assumptions behind the predicted ones.

Order of reading: ``readings`` (each measured pair beside its prediction), ``likelihood`` (how
surprising a reading is), ``fitting`` (the corrections that explain readings best), ``unknowns``
(what is corrected, and which of it can be told), ``posing`` (readings and documented spreads as a
problem to fit), ``survey`` (what came out), ``calibration`` (all of it in order).
"""
