"""A site folder is read, checked and written.

Order of reading: ``layouts`` (devices), ``links`` (what was measured between them),
``calibrations`` (what measurements corrected), ``folder`` (the whole site), ``schema`` (the same
rules for editors), ``template`` (a first site folder).
"""
