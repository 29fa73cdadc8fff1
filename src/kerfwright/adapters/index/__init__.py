"""The index of a shop's jobs: what lists and searches need, on SQLite or on PostgreSQL.

It holds nothing that the folders of the jobs do not hold, and is built from them whenever it is
lost.  Everything that loads SQLAlchemy stays in this package and is loaded when first used.
"""
