"""What was read of a drawing becomes a site folder.

Order of reading: ``doubles`` (two faces become one wall), ``fittings`` (doors and windows find
their walls), ``outlines`` (closed lines that mean one thing), ``parts`` (lines become parts of a
building), ``pages`` (the text of the files), ``folders`` (what a site holds already), ``adopt``
(the whole way).
"""
