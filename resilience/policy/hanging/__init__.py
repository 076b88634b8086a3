"""On which defaults a verdict hangs, and up to which value of each the promise is kept.

Order of reading: ``conditions`` (what is said of that), ``crossing`` (values to be tried between
one at which a promise is kept and one at which it is not), ``rates`` (what is rare, at both ends of
the rates), ``trial`` (how it is found out).
"""
