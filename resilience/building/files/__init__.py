"""A site folder is read, checked and written.

Order of reading: ``documents`` (a YAML file as a tree with line marks), ``tables`` (a CSV file as
records), ``sections`` (settings, checked against the catalogue), ``structures`` (what is drawn),
``layouts`` (devices and measured links), ``folder`` (the whole site), ``schema`` (the same rules
for editors), ``template`` (a first site folder).
"""
