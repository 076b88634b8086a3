"""Verbs that help to decide: which layout, and what may happen to it."""
