"""Papers as PDF: records of :mod:`kerfwright.app.papers` set with Typst, drawings as vectors."""
