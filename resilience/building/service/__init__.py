"""What happened on sites in service, and what was learnt from it.

Order of reading: ``events`` (watches and what struck, as values), ``moments`` (dates and durations
as a logbook has them), ``logbook`` (the tables are read), ``matching`` (whether everything that
struck was watched for), ``learnt`` (what was learnt, kept beside the site), ``state`` (how old
the devices are today, read from a table), ``places`` (where further ones could hang), ``policy``
(what is promised).
"""
