"""A site folder is read, checked and written.

Order of reading: ``documents`` (a YAML file as a tree with line marks), ``tables`` (a CSV file as
records), then the room ``sections``, then ``layouts`` (devices), ``links`` (what was measured
between them), ``calibrations`` (what measurements corrected), ``folder`` (the whole site),
``schema`` (the same rules for editors), ``template`` (a first site folder).
"""
