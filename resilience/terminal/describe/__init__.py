"""Verbs that describe a site: what stands there, who hears whom, what is taken for granted."""
