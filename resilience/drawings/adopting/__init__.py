"""What was read of a drawing becomes a site folder.

Order of reading: ``doubles`` (two faces become one wall), ``fittings`` (doors and windows find
their walls), ``outlines`` (closed lines that mean one thing), ``parts`` (lines become parts of a
building), ``levels`` (how levels stack, and what goes with one), ``pages`` (the text of the files),
``folders`` (what a site holds and what is written to it), ``adopt`` (the whole way).
"""
