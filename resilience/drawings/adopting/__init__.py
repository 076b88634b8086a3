"""What was read of a drawing becomes a site folder.

Order of reading: ``doubles`` (two faces become one wall), ``fittings`` (doors and windows find
their walls), ``outlines`` (closed lines that mean one thing), ``parts`` (lines become parts of a
building), ``pages`` (the text of the files), ``folders`` (a folder is written whole or not at all),
``adopt`` (the whole way).
"""
