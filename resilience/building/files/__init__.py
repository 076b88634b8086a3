"""A site folder is read, checked and written.

Order of reading: ``naming`` (where a site is), ``layouts`` (devices), ``links`` (what was measured
between them), ``calibrations`` (what measurements corrected), ``folder`` (the whole site),
``schema`` (the same rules for editors), ``drafts`` (a folder is written whole or not at all),
``template`` (a first site folder).
"""
