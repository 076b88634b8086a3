"""What each section of a site's main file means.

Order of reading: ``constructions`` (what the site builds with), ``plan`` (what was read so far, and
shapes on the plan), ``levels``, ``changes`` (how often something moves), ``walls`` (with their
doors and windows), ``bodies`` (what else stands, lies or slopes), ``drawn`` (the whole building).
"""
