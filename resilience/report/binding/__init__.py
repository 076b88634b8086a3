"""Pages bound as one file that opens without a network.

Order of reading: ``document`` (chapters as values), ``tables`` (a table as rows of a spreadsheet),
``markup`` (a picture in few letters), ``html`` (all of it as one page, by the templates beside it).
Templates escape whatever they are given; a page may load nothing, and runs and looks as its own
script and rules say alone, each named by its digest.
"""
