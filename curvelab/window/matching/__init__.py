"""Matched sets and mates: what is asked for, what was found, and what becomes of it."""
