"""Who may log in, who is logged in, and who did what: in a database beside the index.

These are no index: nothing can build them anew.  They have tables, a schema and, where no server
is named, a file of their own, so that building the index anew takes nobody's password away.
"""
