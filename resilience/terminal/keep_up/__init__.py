"""Verbs that look after sites in service."""
