"""How a person asks for it: one module for each verb, and what all verbs share.

Order of reading: ``group`` (verbs that are loaded when asked for), ``options`` (what they have in
common), ``screen`` (where text and JSON go), ``progress`` (how long it still takes), ``engine``
(which one plays), ``keeping`` (where a run is kept); then one module for each verb. Modules here
import only typer and the standard library at the top, so that ``--help`` is quick.
"""
