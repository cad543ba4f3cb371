"""The lot file: tubes with their history, kept in one SQLite file.

Only ``curvelab.catalog`` knows the database. ``records`` and ``curves`` hold what crosses the
border of this room and need no database to be imported.
"""
