"""A site folder is read, checked and written.

Order of reading: ``naming`` (where a site is), ``layouts`` (devices), ``links`` (what was measured
between them), ``calibrations`` (what measurements corrected), ``folder`` (the whole site),
``policies`` (what it promises), ``schema`` (the same rules for editors), ``template`` (a first site
folder).
"""
