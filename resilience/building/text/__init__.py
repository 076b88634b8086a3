"""A file as text at places that messages can name, every mistake collected.

Order of reading: ``entries`` (text at a place in a file, and what is wrong with it), ``complaints``
(what a parser finds wrong, in words that lead out), ``documents`` (a YAML file as a tree with line
marks), ``tables`` (a CSV file as records), ``values`` (one setting, checked against the catalogue),
``keeping`` (a file is written whole or not at all), ``drafts`` (the same of a folder).
"""
